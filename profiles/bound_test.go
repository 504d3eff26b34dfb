package profiles_test

import (
	"runtime"
	"slices"
	"strings"
	"testing"

	"deskhand/osc"
	"deskhand/profiles"
)

// worstArguments are lists of arguments, of each as many as a packet holds.
func worstArguments() map[string][]any {
	long := strings.Repeat("\x01", osc.MaxPacket-100)
	deep := any(osc.Array{})
	for range osc.MaxArrayDepth - 1 {
		deep = osc.Array{deep}
	}
	return map[string][]any{
		"numbers":      slices.Repeat([]any{int32(1)}, osc.MaxPacket/5),
		"fractions":    slices.Repeat([]any{0.1}, osc.MaxPacket/9),
		"short texts":  slices.Repeat([]any{"x"}, osc.MaxPacket/5),
		"one text":     {long},
		"two texts":    {long[:len(long)/2], long[len(long)/2:]},
		"one blob":     {make([]byte, osc.MaxPacket-100)},
		"arrays":       slices.Repeat([]any{deep}, osc.MaxPacket/2/osc.MaxArrayDepth),
		"nothing":      slices.Repeat([]any{nil}, osc.MaxPacket),
		"no arguments": {},
	}
}

// Of a long text, as much is taken as a desk may hold, 1 KB, some dozens of times until it is told why it is none. A
// desk's own blocks of values count besides.
func TestNoMessageTakesMoreMemoryToUnderstandThanADeskHolds(t *testing.T) {
	const most = 1 << 16
	for _, p := range every(t) {
		for address := range addresses(p) {
			for name, arguments := range worstArguments() {
				h := osc.Heard{Message: osc.Message{Address: address, Arguments: arguments}}
				understand := func() { _, _, _ = p.Hear(h), p.Told(h), p.Asked(h) }
				least := uint64(1 << 40)
				for range 3 { // others take memory meanwhile
					least = min(least, taken(understand))
				}
				if least > most {
					t.Errorf("%s: %s of %s: %d bytes", p.Name, address, name, least)
				}
			}
		}
	}
}

// addresses are some of those that a desk is told at, asked at and answers at.
func addresses(p *profiles.Profile) map[string]bool {
	all := map[string]bool{p.AskWho().Message.Address: true}
	for i, q := range p.Parameters() {
		if i%97 > 0 {
			continue
		}
		all[p.Address(q)] = true
		for _, question := range p.Ask([]profiles.Parameter{q}) {
			all[question.Message.Address] = true
		}
		if answer, err := p.Answer(q, start(p)); err == nil {
			all[answer.Address] = true
		}
	}
	return all
}

// start is a desk that has just been switched on.
func start(p *profiles.Profile) func(profiles.Parameter) (profiles.Value, bool) {
	return func(q profiles.Parameter) (profiles.Value, bool) {
		control, ok := p.Control(q)
		if !ok {
			return profiles.Value{}, false
		}
		return control.Start, true
	}
}

// taken gives the bytes that are allocated meanwhile.
func taken(do func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	do()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}
