package source

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"
)

func TestWhatIsQuotedReadsBackTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		key, value := rapid.String().Draw(t, "key"), rapid.String().Draw(t, "value")
		text := fmt.Sprintf("%s = %s\n", Key(key), Quote(value))
		d, err := Parse("poet.toml", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := d.Root().Text(key); !ok || got != value {
			t.Fatalf("%q reads back as %q", text, got)
		}
	})
}
