package source

import (
	"math"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

func TestFormatNumberIsWhatAPersonWouldWrite(t *testing.T) {
	for want, v := range map[string]float64{
		"28.5": 28.5, "120": 120, "-inf": math.Inf(-1), "inf": math.Inf(1), "0": math.Copysign(0, -1), "-3": -3, "0.1": 0.1,
		"9007199254740992": 1 << 53, "100000000000000000.0": 1e17, "0.0000001": 1e-7,
	} {
		if got := FormatNumber(v); got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
}

func TestFormatNumberReadsBackTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64().Draw(t, "v")
		text := FormatNumber(v)
		tree, err := decode([]byte("v = " + text))
		if err != nil {
			t.Fatalf("%s is not TOML: %v", text, err)
		}
		if !sameScalar(v, tree["v"]) {
			t.Fatalf("%s became %s and read back as %v", strconv.FormatFloat(v, 'g', -1, 64), text, tree["v"])
		}
	})
}
