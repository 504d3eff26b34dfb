package scenes_test

import (
	"strings"
	"testing"

	"deskhand/scenes"
)

// A minimal file of each kind, to which a test adds what is wrong.
const (
	plainVenue = `[desk]
profile = "quay-24"
address = "127.0.0.1"
`
	plainScene = `venue = "net-loft"
`
)

// read reads the file of one kind that a test puts into the book.
func read(t *testing.T, file, text string) error {
	t.Helper()
	kind, name, _ := strings.Cut(strings.TrimSuffix(file, ".toml"), "/")
	b := bookOf(t, files{file: text})
	var err error
	switch scenes.Kind(kind) {
	case scenes.Venues:
		_, err = b.Venue(name)
	case scenes.Performers:
		_, err = b.Performer(name)
	case scenes.Scenes:
		_, err = b.Scene(name)
	case scenes.Readings:
		_, err = b.Reading(name)
	}
	return err
}

func TestWhatIsWrongInAFileIsSaidWithItsLineAndTheNearestRightWord(t *testing.T) {
	for _, c := range []struct {
		name, file, text string
		want             []string
	}{
		{"key", "performers/x.toml", "titel = \"X\"\n", []string{`performers/x.toml:1: unknown key "titel": did you mean "title"?`}},
		{"setting", "performers/x.toml", "[strip]\nfadr = 0\n", []string{`performers/x.toml:2: unknown setting "fadr": did you mean "fader"?`}},
		{"setting of a band", "performers/x.toml", "[strip.eq.2]\ngian = 1\n", []string{`performers/x.toml:2: unknown setting "eq.2.gian": did you mean "eq.2.gain"?`}},
		{"setting of a send", "performers/x.toml", "[strip]\nsend.wedge.levle = 0\n", []string{`performers/x.toml:2: unknown setting "send.wedge.levle": did you mean "send.wedge.level"?`}},
		{"band 0", "performers/x.toml", "[strip]\neq.0.gain = 0\n", []string{`performers/x.toml:2: unknown setting "eq.0.gain"`}},
		{"dots in quotes", "performers/x.toml", "[strip]\n\"eq.2.gain\" = 0\n", []string{`performers/x.toml:2: unknown setting "eq.2.gain": write its name without quotes`}},
		{"control characters in a key", "performers/x.toml", "[strip]\n\"\\u001b[31m\" = 0\n", []string{`performers/x.toml:2: unknown setting "\x1b[31m"`}},
		{"mix", "performers/x.toml", "[strip]\nsend.wegde.level = 0\n", []string{`performers/x.toml:2: no mix is called "wegde": did you mean "wedge"?`}},
		{"mix at a venue", "performers/x.toml", "[at.net-loft.strip]\nsend.wegde.level = 0\n", []string{`performers/x.toml:2: no mix is called "wegde" at net-loft: did you mean "wedge"?`}},
		{"mix by number", "performers/x.toml", "[strip]\nsend.1.level = 0\n", []string{`performers/x.toml:2: no mix is called "1": it is one of loop, stream, wedge`}},
		{"mix with control characters", "performers/x.toml", "[strip]\nsend.\"\\u001b\".level = 0\n", []string{`performers/x.toml:2: no mix is called "\x1b": it is one of loop, stream, wedge`}},
		{"switch", "performers/x.toml", "[strip]\ngate.on = 1\n", []string{`performers/x.toml:2: gate.on: 1: this is a switch: write true or false`}},
		{"choice", "performers/x.toml", "[strip]\ncolour = \"bleu\"\n", []string{`performers/x.toml:2: colour: "bleu" is none of its choices: did you mean "blue"?`}},
		{"choice of a kind", "performers/x.toml", "[strip]\neq.1.kind = \"lowshelf\"\n", []string{`performers/x.toml:2: eq.1.kind: "lowshelf" is none of its choices: did you mean "low-shelf"?`}},
		{"text", "performers/x.toml", "[strip]\nlabel = 7\n", []string{`performers/x.toml:2: label: 7: this is a text: write it in quotes`}},
		{"list", "performers/x.toml", "[strip]\nfader = [0]\n", []string{`performers/x.toml:2: fader: a setting is a number, true or false, or a text in quotes`}},
		{"range", "performers/x.toml", "[strip]\nfader = 60\n", []string{`performers/x.toml:2: fader: 60.0 dB can't be meant: expected -inf or up to 40.0 dB`}},
		{"silent gain", "performers/x.toml", "[strip]\ninput.gain = -inf\n", []string{`performers/x.toml:2: input.gain: -inf dB can't be meant: expected -40.0 dB to 90.0 dB`}},
		{"kilohertz taken for hertz", "performers/x.toml", "[strip]\neq.1.frequency = 2.5\n", []string{`performers/x.toml:2: eq.1.frequency: 2.5 Hz can't be meant: expected 5 Hz to 40.0 kHz`}},
		{"unit kHz", "performers/x.toml", "[strip]\neq.1.frequency = \"2.5 kHz\"\n", []string{`performers/x.toml:2: eq.1.frequency: "2.5 kHz": this is a number in Hz: write 2500`}},
		{"unit dB", "performers/x.toml", "[strip]\nfader = \"-6dB\"\n", []string{`performers/x.toml:2: fader: "-6dB": this is a number in dB: write -6`}},
		{"unit s", "performers/x.toml", "[strip]\ncompressor.release = \"0.18 s\"\n", []string{`performers/x.toml:2: compressor.release: "0.18 s": this is a number in ms: write 180`}},
		{"ratio", "performers/x.toml", "[strip]\ncompressor.ratio = \"3:1\"\n", []string{`performers/x.toml:2: compressor.ratio: "3:1": this is a number: write 3`}},
		{"another unit", "performers/x.toml", "[strip]\nfader = \"6 V\"\n", []string{`performers/x.toml:2: fader: "6 V": this is a number in dB`}},
		{"pan", "performers/x.toml", "[strip]\npan = \"L30\"\n", []string{`performers/x.toml:2: pan: "L30": this is a number from -100, left, over 0 to 100, right`}},
		{"phantom", "performers/x.toml", "[strip]\ninput.phantom = true\n", []string{`performers/x.toml:2: input.phantom can't be set here: phantom power follows the microphone: write phantom = true or false at the venue's microphone`}},
		{"mute", "performers/x.toml", "[strip]\nmute = true\n", []string{`performers/x.toml:2: mute can't be set here: whether a position is open is for the scene: write open = true or false there`}},
		{"sensitivity in mV", "performers/x.toml", "[dialled-in]\nsensitivity = 20\ndistance = 0.3\n", []string{`performers/x.toml:2: sensitivity 20: expected -90 to 0 dB re 1 V/Pa (20 mV/Pa is 20 log10(0.020) = -34 dB)`}},
		{"distance in centimetres", "performers/x.toml", "[dialled-in]\nsensitivity = -38\ndistance = 30\n", []string{`performers/x.toml:3: distance 30: expected 0.005 to 10 metres, talker to microphone (40 cm is 0.4)`}},
		{"half dialled in", "performers/x.toml", "\n[dialled-in]\n", []string{
			`performers/x.toml:2: sensitivity is missing: write the microphone's, in dB re 1 V/Pa, as -38.0`,
			`performers/x.toml:2: distance is missing: write it in metres, talker to microphone, as 0.3`,
		}},
		{"control character in a title", "performers/x.toml", "title = \"\\u001b[2J\"\n", []string{`performers/x.toml:1: title: there is a control character in it`}},
		{"TOML", "performers/x.toml", "title = \n", []string{`performers/x.toml:1: a value should stand here, but the line ends`}},

		{"no desk", "venues/x.toml", "title = \"X\"\n", []string{`venues/x.toml:1: the venue has no [desk]: write its profile = "..." and address = "HOST"`}},
		{"no profile", "venues/x.toml", "[desk]\naddress = \"127.0.0.1\"\n", []string{`venues/x.toml:1: [desk] has no profile: write profile = "...": it is one of barge-48, punt-16, quay-24, raft-8, skiff-12`}},
		{"profile", "venues/x.toml", "[desk]\nprofile = \"quay-42\"\naddress = \"127.0.0.1\"\n", []string{`venues/x.toml:2: there is no desk profile "quay-42", neither in the book nor shipped: did you mean "quay-24"?`}},
		{"no address", "venues/x.toml", "[desk]\nprofile = \"quay-24\"\n", []string{`venues/x.toml:1: the desk's address is missing: write HOST or HOST:PORT`}},
		{"address", "venues/x.toml", "[desk]\nprofile = \"quay-24\"\naddress = \"127.0.0.1:0\"\n", []string{`venues/x.toml:3: desk address "127.0.0.1:0": write HOST or HOST:PORT, with a port from 1 to 65535`}},
		{"listen", "venues/x.toml", plainVenue + "listen = \"9000\"\n", []string{`venues/x.toml:4: listen "9000": write HOST:PORT`}},
		{"mix beyond the desk", "venues/x.toml", plainVenue + "[mixes]\nwedge = 9\n", []string{`venues/x.toml:5: mix 9: quay-24 has mixes 1 to 8`}},
		{"mix twice", "venues/x.toml", plainVenue + "[mixes]\nwedge = 1\nstream = 1\n", []string{`venues/x.toml:6: mix 1 is called "wedge" already`}},
		{"number for a mix's name", "venues/x.toml", plainVenue + "[mixes]\n3 = 1\n", []string{`venues/x.toml:5: mix "3": give it a name that is no number`}},
		{"dot in a mix's name", "venues/x.toml", plainVenue + "[mixes]\n\"front.left\" = 1\n", []string{`venues/x.toml:5: mix "front.left": write its name with letters, digits and hyphens only`}},
		{"microphone without phantom", "venues/x.toml", plainVenue + "[microphones.m]\nsensitivity = -40\n", []string{`venues/x.toml:4: microphone "m" does not say whether it needs phantom power: write phantom = true or false`}},
		{"no channel", "venues/x.toml", plainVenue + "[positions.p]\n", []string{`venues/x.toml:4: position "p" has no channel: write channel = ...`}},
		{"channel beyond the desk", "venues/x.toml", plainVenue + "[positions.p]\nchannel = 25\n", []string{`venues/x.toml:5: channel 25: quay-24 has channels 1 to 24`}},
		{"channel twice", "venues/x.toml", plainVenue + "[positions.p]\nchannel = 2\n[positions.q]\nchannel = 2\n", []string{`venues/x.toml:7: channel 2 is "p" already`}},
		{"microphone", "venues/x.toml", plainVenue + "[microphones.gooseneck]\nsensitivity = -34\nphantom = true\n[positions.p]\nchannel = 2\nmicrophone = \"goosneck\"\n",
			[]string{`venues/x.toml:9: the venue has no microphone "goosneck": did you mean "gooseneck"?`}},
		{"position called like a setting", "venues/x.toml", plainVenue + "[positions.main]\nchannel = 2\n", []string{`venues/x.toml:4: position "main": a setting or a part of the desk is called so; give it another name`}},
		{"position with control characters", "venues/x.toml", plainVenue + "[positions.\"\\u001b\"]\nchannel = 2\n", []string{`venues/x.toml:4: position "\x1b": write its name with letters, digits and hyphens only`}},
		{"a mix of another venue", "venues/x.toml", plainVenue + "[mixes]\nfoldback = 1\n[positions.p]\nchannel = 1\nstrip.send.wedge.level = 0\n", []string{`venues/x.toml:8: no mix is called "wedge" at x: it can only be foldback`}},
		{"limit", "venues/x.toml", plainVenue + "[limits]\nrise = -1\n", []string{`venues/x.toml:5: rise = -1: expected 0 to 60 dB`}},
		{"silent limit", "venues/x.toml", plainVenue + "[limits]\nusual = -inf\n", []string{`venues/x.toml:5: usual = -inf: expected -120 to 120 dB`}},
		{"unknown limit", "venues/x.toml", plainVenue + "[limits]\nraise = 6\n", []string{`venues/x.toml:5: unknown key "raise": did you mean "rise"?`}},
		{"safe", "venues/x.toml", "safes = [\"fadr\"]\n" + plainVenue, []string{`venues/x.toml:1: the safe "fadr" is nothing on this desk: did you mean "fader"?`}},
		{"safe position", "venues/x.toml", "safes = [\"lectren\"]\n" + plainVenue + "[positions.lectern]\nchannel = 1\n", []string{`venues/x.toml:1: the safe "lectren" is nothing on this desk: did you mean "lectern"?`}},

		{"no venue", "scenes/x.toml", "[positions.lectern]\n", []string{`scenes/x.toml:1: the scene does not say where it is: write venue = "..."`}},
		{"nobody", "scenes/x.toml", plainScene, []string{`scenes/x.toml:1: the scene has nobody in it: write [positions.NAME] with performer = "..."`}},
		{"key of a scene's position", "scenes/x.toml", plainScene + "[positions.lectern]\nperfomer = \"poet\"\n", []string{`scenes/x.toml:3: unknown key "perfomer": did you mean "performer"?`}},
		{"open", "scenes/x.toml", plainScene + "[positions.lectern]\nopen = \"yes\"\n", []string{`scenes/x.toml:3: "open" should be true or false, but it is the text "yes"`}},
		{"fade", "scenes/x.toml", plainScene + "fade = 2\n[positions.lectern]\n", []string{`scenes/x.toml:2: "fade" should be a length of time such as "150ms" or "8s", but it is the number 2`}},
		{"fade before it began", "scenes/x.toml", plainScene + "fade = \"-1s\"\n[positions.lectern]\n", []string{`scenes/x.toml:2: a fade of -1s is too short: write 0.1 s to 60 s, as fade = "2s", or leave it out`}},
		{"fade too long", "scenes/x.toml", plainScene + "fade = \"61s\"\n[positions.lectern]\n", []string{`scenes/x.toml:2: a fade of 1m1s is too long: write 0.1 s to 60 s, as fade = "2s"`}},
		{"fade-order", "scenes/x.toml", plainScene + "fade = \"2s\"\nfade-order = \"downfirst\"\n[positions.lectern]\n", []string{`scenes/x.toml:3: fade-order can't be "downfirst": did you mean "down-first"?`}},
		{"fade-order alone", "scenes/x.toml", plainScene + "fade-order = \"together\"\n[positions.lectern]\n", []string{`scenes/x.toml:2: fade-order says nothing without a fade: add fade = "2s"`}},
		{"mix in a scene", "scenes/x.toml", plainScene + "[positions.lectern.strip]\nsend.wegde.level = 0\n", []string{`scenes/x.toml:3: no mix is called "wegde" at net-loft: did you mean "wedge"?`}},

		{"no desk in a reading", "readings/x.toml", "[channel.1]\nfader = 0\n", []string{`readings/x.toml:1: the reading does not say of which desk it is: write desk = "..."`}},
		{"channel of a reading", "readings/x.toml", "desk = \"quay-24\"\n[channel.25]\nfader = 0\n", []string{`readings/x.toml:3: quay-24 has no channel.25.fader: did you mean "fader"?`}},
		{"setting of a reading", "readings/x.toml", "desk = \"quay-24\"\n[channel.2]\nfadr = 0\n", []string{`readings/x.toml:3: quay-24 has no channel.2.fadr: did you mean "fader"?`}},
		{"number of a reading", "readings/x.toml", "desk = \"quay-24\"\n[channel.02]\nfader = 0\n", []string{`readings/x.toml:3: parameter "channel.02.fader": write a number from 1 after "channel."`}},
		{"value of a reading", "readings/x.toml", "desk = \"quay-24\"\n[channel.2]\nfader = 20\n", []string{`readings/x.toml:3: channel.2.fader: 20.0 dB is out of the desk's range, -inf dB to 8.0 dB`}},
	} {
		t.Run(c.name, func(t *testing.T) { wantFaults(t, read(t, c.file, c.text), c.want...) })
	}
}

func TestAMissingFileFindsTheNearest(t *testing.T) {
	b := bookOf(t, nil)
	_, err := b.Performer("botnist")
	if err == nil || err.Error() != `there is no performer "botnist" in the book: did you mean "botanist"?` {
		t.Errorf("got %v", err)
	}
	_, err = b.Venue("netloft")
	if err == nil || err.Error() != `there is no venue "netloft" in the book: did you mean "net-loft"?` {
		t.Errorf("got %v", err)
	}
	v := venueOf(t, b, "net-loft")
	_, err = b.CastFor(v, "lecturn", "poet", nil)
	if err == nil || err.Error() != `venues/net-loft.toml has no position "lecturn": did you mean "lectern"?` {
		t.Errorf("got %v", err)
	}
}

func TestASceneSaysWhatIsWrongWithWhatItRefersTo(t *testing.T) {
	for _, c := range []struct {
		name  string
		files files
		want  []string
	}{
		{"venue", files{"scenes/x.toml": "\nvenue = \"netloft\"\n[positions.lectern]\n"},
			[]string{`scenes/x.toml:2: there is no venue "netloft" in the book: did you mean "net-loft"?`}},
		{"position", files{"scenes/x.toml": plainScene + "[positions.lecturn]\n"},
			[]string{`scenes/x.toml:2: venues/net-loft.toml has no position "lecturn": did you mean "lectern"?`}},
		{"performer", files{"scenes/x.toml": plainScene + "[positions.lectern]\nperformer = \"pote\"\n"},
			[]string{`scenes/x.toml:3: there is no performer "pote" in the book: did you mean "poet"?`}},
		{"performer with a fault", files{"scenes/x.toml": plainScene + "[positions.lectern]\nperformer = \"poet\"\n", "performers/poet.toml": "[strip]\nfadr = 0\n"},
			[]string{`performers/poet.toml:2: unknown setting "fadr": did you mean "fader"?`}},
		{"venue with a fault", files{"scenes/x.toml": plainScene + "[positions.lectern]\n", "venues/net-loft.toml": plainVenue + "[limits]\nraise = 6\n"},
			[]string{`venues/net-loft.toml:5: unknown key "raise": did you mean "rise"?`}},
		{"several", files{"scenes/x.toml": plainScene + "[positions.lectern]\nperformer = \"pote\"\n[positions.tableleft]\n[positions.roving.strip]\nfader = 30\n"}, []string{
			`scenes/x.toml:3: there is no performer "pote" in the book: did you mean "poet"?`,
			`scenes/x.toml:4: venues/net-loft.toml has no position "tableleft": did you mean "table-left"?`,
			`scenes/x.toml:6: fader: 30.0 dB is out of the desk's range, -inf dB to 8.0 dB`,
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bookOf(t, c.files)
			s, err := b.Scene("x")
			if err == nil {
				_, _, err = b.ResolveScene(s)
			}
			wantFaults(t, err, c.want...)
			report := b.Check([]scenes.Named{{Kind: scenes.Scenes, Name: "x"}})
			wantFaults(t, report.Faults.Err(), c.want...)
		})
	}
}

func TestAFaultyProfileIsToldInOneLine(t *testing.T) {
	err := read(t, "venues/x.toml", "[desk]\nprofile = \"shed-8\"\naddress = \"127.0.0.1\"\n")
	wantFaults(t, err, `venues/x.toml:2: there is no desk profile "shed-8", neither in the book nor shipped: it is one of barge-48, punt-16, quay-24, raft-8, skiff-12`)
	b := bookOf(t, files{"profiles/shed-8.toml": "chanels = 8\n", "venues/x.toml": "[desk]\nprofile = \"shed-8\"\naddress = \"127.0.0.1\"\n"})
	_, err = b.Venue("x")
	if err == nil || strings.Contains(err.Error(), "\n") || !strings.HasPrefix(err.Error(), "venues/x.toml:2: profiles/shed-8.toml:1: ") {
		t.Errorf("got %v", err)
	}
}

func TestAnUnknownMixIsNoFaultWhereAVenueCannotBeRead(t *testing.T) {
	b := bookOf(t, files{"venues/tide-hall.toml": "[mixes\n", "performers/x.toml": "[strip]\nsend.foldback.level = 0\n"})
	if _, err := b.Performer("x"); err != nil {
		t.Errorf("the mix may be the tide hall's: %v", err)
	}
}
