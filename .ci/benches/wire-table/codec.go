package main

import (
	"deskhand/.ci/benches/measure"
	"deskhand/osc"

	goosc "github.com/hypebeast/go-osc/osc"
)

// messages is how many are decoded or encoded in one turn.
const messages = 20_000

// compareCodec holds our decoder, its guard included, and our encoder against the codec
// library alone, by processor time.
func compareCodec() error {
	for _, c := range []struct {
		what    string
		message osc.Message
	}{
		{"a level", osc.Message{Address: "/lane/3/out/level", Arguments: []any{float32(0.75)}}},
		{"a text", osc.Message{Address: "/lane/3/tag/name", Arguments: []any{"bell founder"}}},
	} {
		packet, err := c.message.Encode()
		if err != nil {
			return err
		}
		text, library := string(packet), goosc.Message(c.message)
		err = holdAgainst("decode "+c.what, func() error { _, err := osc.Decode(packet); return err },
			func() error { _, err := goosc.ParsePacket(text); return err })
		if err != nil {
			return err
		}
		err = holdAgainst("encode "+c.what, func() error { _, err := c.message.Encode(); return err },
			func() error { _, err := library.MarshalBinary(); return err })
		if err != nil {
			return err
		}
	}
	return nil
}

func holdAgainst(what string, ours, library func() error) error {
	var mine, theirs []float64
	for range turns {
		for _, side := range []struct {
			do   func() error
			took *[]float64
		}{{ours, &mine}, {library, &theirs}} {
			began := measure.Processor()
			for range messages {
				if err := side.do(); err != nil {
					return err
				}
			}
			*side.took = append(*side.took, (measure.Processor()-began).Seconds()*1e6/messages)
		}
	}
	row(what+", us of processor", mine, "go-osc alone", theirs, ratios(mine, theirs), "at most 1")
	return nil
}
