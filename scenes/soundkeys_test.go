package scenes_test

import (
	"strings"
	"testing"

	"deskhand/scenes"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// soundVenue has all keys of the sound arithmetic that a venue can have.
const soundVenue = plainVenue + `[microphones.boom]
sensitivity = -34
phantom = true
response = [[63, -3.0], [100, 0], [8000, 2.5]]

[microphones.ribbon]
sensitivity = -54
phantom = false
harmed-by-phantom = true

[distances]
listener = 14
loudspeaker = 5.0
throw = 12.0
unaided = 4.0

[positions.lectern]
channel = 3
microphone = "boom"
distance = 0.4

[positions.stool]
channel = 4
microphone = "ribbon"
distances.loudspeaker = 7.5
`

func TestAVenueSaysHowItSounds(t *testing.T) {
	v, err := bookOf(t, files{"venues/x.toml": soundVenue}).Venue("x")
	if err != nil {
		t.Fatal(err)
	}
	want := []scenes.Microphone{
		{Name: "boom", Sensitivity: -34, Phantom: true, Origin: scenes.Origin{Layer: scenes.MicrophoneLayer, File: "venues/x.toml", Line: 6},
			Response: scenes.Response{{Frequency: 63, Level: -3}, {Frequency: 100, Level: 0}, {Frequency: 8000, Level: 2.5}}},
		{Name: "ribbon", Sensitivity: -54, Origin: scenes.Origin{Layer: scenes.MicrophoneLayer, File: "venues/x.toml", Line: 11},
			Harmed: &scenes.Origin{Layer: scenes.MicrophoneLayer, File: "venues/x.toml", Line: 12}},
	}
	if diff := cmp.Diff(want, v.Microphones); diff != "" {
		t.Error(diff)
	}
	room := scenes.Distances{Listener: 14, Loudspeaker: 5, Throw: 12, Unaided: 4}
	stool := scenes.Distances{Listener: 14, Loudspeaker: 7.5, Throw: 12, Unaided: 4}
	got := []scenes.Distances{v.Distances, v.Positions[0].Distances, v.Positions[1].Distances}
	if diff := cmp.Diff([]scenes.Distances{room, room, stool}, got); diff != "" {
		t.Error(diff)
	}
}

func TestAMicrophoneThatIsSaidNotToBeHarmedIsNot(t *testing.T) {
	v, err := bookOf(t, files{"venues/x.toml": strings.Replace(soundVenue, "harmed-by-phantom = true", "harmed-by-phantom = false", 1)}).Venue("x")
	if err != nil {
		t.Fatal(err)
	}
	if v.Microphones[1].Harmed != nil {
		t.Error("it is harmed, as", v.Microphones[1].Harmed, "says")
	}
}

func TestAPerformerSaysHowLoudTheyAreAndHowTheyWereDialledIn(t *testing.T) {
	const text = `[dialled-in]
sensitivity = -34
distance = 0.3
microphone = "net-loft/gooseneck"
desk = "skiff-12"

[voice]
level = 66.0

[at.net-loft]
dialled-in = { sensitivity = -54, distance = 0.05 }
`
	p, err := bookOf(t, files{"performers/x.toml": text}).Performer("x")
	if err != nil {
		t.Fatal(err)
	}
	want := &scenes.Dialled{Sensitivity: -34, Distance: 0.3, Line: 1, Desk: "skiff-12", DeskLine: 5,
		Microphone: &scenes.MicrophoneAt{Venue: "net-loft", Name: "gooseneck", Line: 4}}
	if diff := cmp.Diff(want, p.Dialled, cmpopts.IgnoreUnexported(scenes.Dialled{})); diff != "" {
		t.Error(diff)
	}
	if here := p.Here["net-loft"].Dialled; here.Microphone != nil || here.Desk != "" {
		t.Errorf("at the net loft: %+v", here)
	}
	// A level is at 1 m unless it says another distance.
	if diff := cmp.Diff(&scenes.Voice{Level: 66, Distance: 1}, p.Voice); diff != "" {
		t.Error(diff)
	}
}

func TestABookSaysHowNearAnEQMustCome(t *testing.T) {
	for _, c := range []struct {
		name, text string
		want       scenes.EQSettings
	}{
		{"nothing", "", scenes.EQSettings{Tolerance: 1.5}},
		{"an empty table", "[eq]\n", scenes.EQSettings{Tolerance: 1.5}},
		{"a tolerance", "[eq]\ntolerance = 2\n", scenes.EQSettings{Tolerance: 2}},
		{"microphones", "[eq]\nmicrophones = true\n", scenes.EQSettings{Tolerance: 1.5, Microphones: true}},
	} {
		if got := bookOf(t, files{"book.toml": c.text}).EQ; got != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
}

func TestWhatIsWrongWithTheKeysOfSound(t *testing.T) {
	microphone := plainVenue + "[microphones.m]\nsensitivity = -40\nphantom = true\n" // the next line is 7
	at := plainVenue + "[distances]\n"                                                // the next line is 5
	voice := "[voice]\n"
	dialled := "[dialled-in]\nsensitivity = -38\ndistance = 0.3\n" // the next line is 4
	for _, c := range []struct {
		name, file, text string
		want             []string
	}{
		{"harmed and needed", "venues/x.toml", microphone + "harmed-by-phantom = true\n",
			[]string{`venues/x.toml:7: microphone "m" needs phantom power and is harmed by it: only one can be true; hold it against the microphone's data sheet`}},
		{"key of a microphone", "venues/x.toml", microphone + "harmed-by-fantom = true\n",
			[]string{`venues/x.toml:7: unknown key "harmed-by-fantom": did you mean "harmed-by-phantom"?`}},
		{"harmed is a switch", "venues/x.toml", microphone + "harmed-by-phantom = \"yes\"\n",
			[]string{`venues/x.toml:7: "harmed-by-phantom" should be true or false, but it is the text "yes"`}},
		{"response that is no list", "venues/x.toml", microphone + "response = -3\n",
			[]string{`venues/x.toml:7: "response" should be a list, but it is the number -3`}},
		{"response of no point", "venues/x.toml", microphone + "response = []\n",
			[]string{`venues/x.toml:7: response: expected 2 to 1000 points, [[Hz, dB], ...], and there is none`}},
		{"response of one point", "venues/x.toml", microphone + "response = [[63, -3.0]]\n",
			[]string{`venues/x.toml:7: response: expected 2 to 1000 points, [[Hz, dB], ...], and there is one`}},
		{"response that is flat numbers", "venues/x.toml", microphone + "response = [63, -3.0]\n",
			[]string{`venues/x.toml:7: response, point 1: write it as [Hz, dB], such as [100.0, -3.0]`}},
		{"response with a word", "venues/x.toml", microphone + "response = [[63, -3.0], [100, \"flat\"]]\n",
			[]string{`venues/x.toml:7: response, point 2: write two numbers, [Hz, dB], such as [100.0, -3.0]`}},
		{"response that falls", "venues/x.toml", microphone + "response = [[100, 0], [63, -3]]\n",
			[]string{`venues/x.toml:7: response, point 2: 63 Hz is not above the 100 Hz before it: write the points with rising frequencies`}},
		{"response that says a frequency twice", "venues/x.toml", microphone + "response = [[100, 0], [100, -3]]\n",
			[]string{`venues/x.toml:7: response, point 2: 100 Hz is not above the 100 Hz before it: write the points with rising frequencies`}},
		{"response in kHz", "venues/x.toml", microphone + "response = [[0.1, 0], [1, 0]]\n",
			[]string{`venues/x.toml:7: response, point 1: 0.1 Hz: expected 5 to 40000 Hz (2.5 kHz is 2500)`}},
		{"response beyond what is heard", "venues/x.toml", microphone + "response = [[100, 0], [41000, 0]]\n",
			[]string{`venues/x.toml:7: response, point 2: 41000 Hz: expected 5 to 40000 Hz (2.5 kHz is 2500)`}},
		{"response with a level", "venues/x.toml", microphone + "response = [[100, -40.5], [1000, 0]]\n",
			[]string{`venues/x.toml:7: response, point 1: -40.5 dB: expected -40 to 40 dB, relative to the sensitivity`}},
		{"response with silence", "venues/x.toml", microphone + "response = [[100, -inf], [1000, 0]]\n",
			[]string{`venues/x.toml:7: response, point 1: -inf dB: expected -40 to 40 dB, relative to the sensitivity`}},
		{"response with no number", "venues/x.toml", microphone + "response = [[nan, 0], [1000, 0]]\n",
			[]string{`venues/x.toml:7: response, point 1: nan Hz: expected 5 to 40000 Hz (2.5 kHz is 2500)`}},

		{"key of distances", "venues/x.toml", at + "listner = 14\n", []string{`venues/x.toml:5: unknown key "listner": did you mean "listener"?`}},
		{"distance in centimetres", "venues/x.toml", at + "listener = 1400\n", []string{`venues/x.toml:5: listener = 1400: expected 0.5 to 500 metres, talker to the farthest listener`}},
		{"distance of nothing", "venues/x.toml", at + "loudspeaker = 0\n", []string{`venues/x.toml:5: loudspeaker = 0: expected 0.1 to 200 metres, microphone to the nearest loudspeaker`}},
		{"throw", "venues/x.toml", at + "throw = inf\n", []string{`venues/x.toml:5: throw = +inf: expected 0.5 to 500 metres, that loudspeaker to the farthest listener`}},
		{"unaided", "venues/x.toml", at + "unaided = -1\n", []string{`venues/x.toml:5: unaided = -1: expected 0.1 to 100 metres, how far speech is clear unaided`}},
		{"distances of a position", "venues/x.toml", plainVenue + "[positions.p]\nchannel = 1\ndistances.throw = \"12 m\"\n",
			[]string{`venues/x.toml:6: "throw" should be a number, but it is the text "12 m"`}},

		{"voice without a level", "performers/x.toml", voice,
			[]string{`performers/x.toml:1: [voice] has no level: write it in dB SPL, as 66.0 (at 1 m a normal voice has some 60, a raised one 66, a loud one 72)`}},
		{"voice in dB re full scale", "performers/x.toml", voice + "level = -18\n", []string{`performers/x.toml:2: level -18: expected 20 to 140 dB SPL`}},
		{"voice in centimetres", "performers/x.toml", voice + "level = 66\ndistance = 30\n",
			[]string{`performers/x.toml:3: distance 30: expected 0.005 to 10 metres, at which the voice has its level (40 cm is 0.4)`}},
		{"key of a voice", "performers/x.toml", voice + "level = 66\ndistence = 1\n", []string{`performers/x.toml:3: unknown key "distence": did you mean "distance"?`}},
		{"microphone without its venue", "performers/x.toml", dialled + "microphone = \"gooseneck\"\n",
			[]string{`performers/x.toml:4: microphone "gooseneck": write VENUE/MICROPHONE, as "net-loft/gooseneck"`}},
		{"microphone out of the book", "performers/x.toml", dialled + "microphone = \"../x\"\n",
			[]string{`performers/x.toml:4: microphone "../x": write VENUE/MICROPHONE, as "net-loft/gooseneck"`}},
		{"key of a dialling-in", "performers/x.toml", dialled + "microfone = \"net-loft/gooseneck\"\n",
			[]string{`performers/x.toml:4: unknown key "microfone": did you mean "microphone"?`}},
	} {
		t.Run(c.name, func(t *testing.T) { wantFaults(t, read(t, c.file, c.text), c.want...) })
	}
}

func TestWhatIsWrongWithTheBooksEQ(t *testing.T) {
	for text, want := range map[string]string{
		"[eq]\ntolerance = 0\n":     `book.toml:2: tolerance = 0: expected 0.1 to 12 dB`,
		"[eq]\ntolerence = 1\n":     `book.toml:2: unknown key "tolerence": did you mean "tolerance"?`,
		"[eq]\nmicrophones = 1\n":   `book.toml:2: "microphones" should be true or false, but it is the number 1`,
		"\neq = \"flat\"\n":         `book.toml:2: "eq" should be a table, but it is the text "flat"`,
		"[eq]\nmicrophone = true\n": `book.toml:2: unknown key "microphone": did you mean "microphones"?`,
	} {
		_, err := scenes.OpenFS(over(t, files{"book.toml": text}), "")
		wantFaults(t, err, want)
	}
}

func TestCheckHoldsADiallingInAgainstTheBook(t *testing.T) {
	dialled := "[dialled-in]\nsensitivity = -38\ndistance = 0.3\n"
	for _, c := range []struct {
		name, text string
		want       []string
	}{
		{"all there, and no gain needed beside it", dialled + "microphone = \"net-loft/gooseneck\"\ndesk = \"skiff-12\"\n", []string{}},
		{"venue", dialled + "microphone = \"net-lotf/gooseneck\"\n", []string{`performers/x.toml:4: there is no venue "net-lotf" in the book: did you mean "net-loft"?`}},
		{"microphone", dialled + "microphone = \"net-loft/goosneck\"\n", []string{`performers/x.toml:4: venues/net-loft.toml has no microphone "goosneck": did you mean "gooseneck"?`}},
		{"desk", dialled + "desk = \"skiff-21\"\n", []string{`performers/x.toml:4: there is no desk profile "skiff-21", neither in the book nor shipped: did you mean "skiff-12"?`}},
		{"at a venue", "[at.net-loft]\n[at.net-loft.dialled-in]\nsensitivity = -38\ndistance = 0.3\ndesk = \"quay-42\"\n",
			[]string{`performers/x.toml:5: there is no desk profile "quay-42", neither in the book nor shipped: did you mean "quay-24"?`}},
	} {
		t.Run(c.name, func(t *testing.T) {
			report := bookOf(t, files{"performers/x.toml": c.text}).Check(nil)
			if diff := cmp.Diff(c.want, append([]string{}, texts(report.Faults)...)); diff != "" {
				t.Errorf("faults (-want +got):\n%s", diff)
			}
			if len(report.Warnings) > 0 {
				t.Error("warnings:", report.Warnings)
			}
		})
	}
}
