package source

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// set is an edit with its path written as TOML would, for tests whose keys have no dots inside.
func set(path string, value any) Edit { return Edit{strings.Split(path, "."), value} }

// checkEdits applies edits to a text and compares the outcome with the one expected, byte for byte.
func checkEdits(t *testing.T, before, after string, edits ...Edit) {
	t.Helper()
	d, err := Parse("poet.toml", []byte(before))
	if err != nil {
		t.Fatal(err)
	}
	got, err := d.Apply(edits...)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(after, string(got)); diff != "" {
		t.Errorf("the text differs from what a person would write (-want +got):\n%s", diff)
	}
}

func TestAnExistingValueKeepsItsStyle(t *testing.T) {
	silence := math.Inf(-1)
	for _, test := range []struct {
		name, before, after string
		value               any
	}{
		{"an integer stays one", "gain = 34 # dB", "gain = 28 # dB", 28.0},
		{"an integer becomes a decimal when it must", "gain = 34", "gain = 28.5", 28.5},
		{"a decimal keeps its one place", "gain = 34.0", "gain = 28.0", 28.0},
		{"a decimal keeps its two places", "gain = 34.00\n", "gain = 28.50\n", 28.5},
		{"a decimal gets the places it needs", "gain = 34.0", "gain = 28.125", 28.125},
		{"a whole number in place of a decimal", "gain = 34.0", "gain = 28.0", int64(28)},
		{"an int is a whole number", "gain = 34", "gain = -3", -3},
		{"a plus sign stays", "gain = +3.0", "gain = +4.5", 4.5},
		{"a plus sign gives way to a minus", "gain = +3.0", "gain = -4.5", -4.5},
		{"silence", "gain = -12.0   # to wedge", "gain = -inf   # to wedge", silence},
		{"silence in place of an integer", "gain = -12", "gain = -inf", silence},
		{"out of silence", "gain = -inf", "gain = -6.0", -6.0},
		{"zero has no sign", "gain = -12", "gain = 0", math.Copysign(0, -1)},
		{"zero in a decimal has no sign", "gain = -12.0", "gain = 0.0", math.Copysign(0, -1)},
		{"an underscore is dropped", "gain = 1_000", "gain = 2500", 2500.0},
		{"an exponent is dropped", "gain = 1e3", "gain = 2500.0", 2500.0},
		{"another base is dropped", "gain = 0xff", "gain = 16", 16.0},
		{"a tenth stays a tenth", "gain = 0.3", "gain = 0.1", 0.1},
		{"a basic text", `gain = "low"`, `gain = "say \"high\""`, `say "high"`},
		{"a literal text", `gain = 'low'`, `gain = 'say "high"'`, `say "high"`},
		{"a literal text that can't stay one", `gain = 'low'`, `gain = "it's"`, `it's`},
		{"a literal text with a line end", `gain = 'low'`, `gain = "a\nb"`, "a\nb"},
		{"a text of several lines", "gain = \"\"\"\nlow\n\"\"\"", "gain = \"\"\"\na\nb\"\"\"", "a\nb"},
		{"quotes in a text of several lines", `gain = """low"""`, `gain = """a""\"b\""""`, `a"""b"`},
		{"a literal text of several lines", "gain = '''\nlow'''", "gain = '''\na\n'b'\nc'''", "a\n'b'\nc"},
		{"a literal text of several lines that can't stay one", "gain = '''low'''", `gain = """a'''"""`, "a'''"},
		{"a text of several lines that begins with a line end", `gain = """low"""`, "gain = \"\"\"\n\nlow\"\"\"", "\nlow"},
		{"control characters", `gain = "low"`, `gain = "a\u0000\u007Fé"`, "a\x00\x7fé"},
		{"a switch", "gain=false#no", "gain=true#no", true},
		{"a switch in place of a text", `gain = "off"`, `gain = false`, false},
		{"the same number changes nothing", "gain = 0x22 # odd", "gain = 0x22 # odd", 34.0},
		{"the same number with decimals changes nothing", "gain = 34.000", "gain = 34.000", int64(34)},
		{"the same text changes nothing", `gain = "\u0061"`, `gain = "\u0061"`, "a"},
	} {
		t.Run(test.name, func(t *testing.T) { checkEdits(t, test.before, test.after, set("gain", test.value)) })
	}
}

func TestAnEditLeavesTheRestToTheByte(t *testing.T) {
	before := "\xef\xbb\xbf# The poet. \r\n\tname   =   'poet'  \r\n\r\n[ strip ]   # hers\r\n" +
		"input . gain=34.0   # dB, at 0.2 m\r\n  \"eq\".2 . gain = -3.0\r\nlist = [ 1,\r\n  2 ] # x\r\n" +
		"send.1 = { level = -12.0 ,tap='pre' }   \r\n\r\n\r\n# the end"
	after := strings.NewReplacer("34.0", "28.5", "-3.0 ", "-2.0 ", "-12.0", "-8.0").Replace(before)
	after = strings.Replace(after, "gain = -3.0", "gain = -2.0", 1)
	checkEdits(t, before, after,
		set("strip.input.gain", 28.5), set("strip.eq.2.gain", -2.0), set("strip.send.1.level", -8.0))
}

func TestAMissingKeyGoesWhereAPersonWouldPutIt(t *testing.T) {
	for _, test := range []struct {
		name, before, after string
		edits               []Edit
	}{
		{
			"below the last key of its table",
			"[strip]\ngain = 34.0 # dB\n\n[mic]\nkind = \"lavalier\"\n",
			"[strip]\ngain = 34.0 # dB\npan = -20\n\n[mic]\nkind = \"lavalier\"\n",
			[]Edit{set("strip.pan", -20.0)},
		},
		{
			"below its dotted siblings, not at the end",
			"[strip]\neq.2.kind = \"bell\"\neq.2.frequency = 2500\nfader = -6.0\n",
			"[strip]\neq.2.kind = \"bell\"\neq.2.frequency = 2500\neq.2.gain = -3\nfader = -6.0\n",
			[]Edit{set("strip.eq.2.gain", -3.0)},
		},
		{
			"in the number style of its namesake",
			"[strip]\neq.1.gain = 1.0\neq.2.frequency = 2500\n",
			"[strip]\neq.1.gain = 1.0\neq.2.frequency = 2500\neq.2.gain = -3.0\n",
			[]Edit{set("strip.eq.2.gain", -3.0)},
		},
		{
			"a new band below the other bands",
			"[strip]\neq.1.gain = 1.0\neq.2.gain = 2.0\nfader = -6.0\n",
			"[strip]\neq.1.gain = 1.0\neq.2.gain = 2.0\neq.3.gain = -3.0\neq.3.q = 1.4\nfader = -6.0\n",
			[]Edit{set("strip.eq.3.gain", -3.0), set("strip.eq.3.q", 1.4)},
		},
		{
			"in the sibling's spelling of the keys before",
			"[strip]\n\"eq\" . 2 . gain = 1.0\n",
			"[strip]\n\"eq\" . 2 . gain = 1.0\n\"eq\" . 2 . q = 1.4\n",
			[]Edit{set("strip.eq.2.q", 1.4)},
		},
		{
			"a key that needs quotes",
			"[strip]\n",
			"[strip]\n\"grey box\".\"4 dB\" = true\n",
			[]Edit{set("strip.grey box.4 dB", true)},
		},
		{
			"with the sibling's indentation and line ending",
			"[strip]\r\n\tgain=34.0\r\n",
			"[strip]\r\n\tgain=34.0\r\n\tpan=10\r\n",
			[]Edit{set("strip.pan", 10.0)},
		},
		{
			"in the column of its siblings' signs",
			"[strip]\ngain      = 34.0\nfrequency = 120\n",
			"[strip]\ngain      = 34.0\nfrequency = 120\nq         = 1.4\n",
			[]Edit{set("strip.q", 1.4)},
		},
		{
			"past the column of its siblings' signs",
			"[strip]\ngain = 34.0\nq    = 1.4\n",
			"[strip]\ngain = 34.0\nq    = 1.4\nfrequency = 120\n",
			[]Edit{set("strip.frequency", 120.0)},
		},
		{
			"in a file without a last line ending",
			"[strip]\ngain = 34.0",
			"[strip]\ngain = 34.0\npan = 10",
			[]Edit{set("strip.pan", 10.0)},
		},
		{
			"in a table without keys",
			"[strip] # hers\n# nothing yet\n\n[mic]\n",
			"[strip] # hers\npan = 10\n# nothing yet\n\n[mic]\n",
			[]Edit{set("strip.pan", 10.0)},
		},
		{
			"below a value of several lines",
			"[strip]\ngroups = [\n  1, # speech\n  2,\n]\n",
			"[strip]\ngroups = [\n  1, # speech\n  2,\n]\npan = 10\n",
			[]Edit{set("strip.pan", 10.0)},
		},
		{
			"in the middle table of three headers",
			"[strip.eq.1]\ngain = 1.0\n\n[strip.eq.2]\ngain = 2.0\n\n# the third\n[strip.eq.3]\ngain = 3.0\n",
			"[strip.eq.1]\ngain = 1.0\n\n[strip.eq.2]\ngain = 2.0\nq = 1.4\n\n# the third\n[strip.eq.3]\ngain = 3.0\n",
			[]Edit{set("strip.eq.2.q", 1.4)},
		},
		{
			"a new band under a header of its own, like the others",
			"[strip.eq.1]\ngain = 1.0\n\n[strip.eq.2]\ngain = 2.0\n\n# the microphone\n[mic]\nkind = \"x\"\n",
			"[strip.eq.1]\ngain = 1.0\n\n[strip.eq.2]\ngain = 2.0\n\n[strip.eq.3]\ngain = -3.0\nq = 1.4\n\n# the microphone\n[mic]\nkind = \"x\"\n",
			[]Edit{set("strip.eq.3.gain", -3.0), set("strip.eq.3.q", 1.4)},
		},
		{
			"a new header at the end of the file",
			"[strip.eq.1]\n  gain = 1.0\n",
			"[strip.eq.1]\n  gain = 1.0\n\n[strip.eq.2]\n  gain = 2.0\n",
			[]Edit{set("strip.eq.2.gain", 2.0)},
		},
		{
			"a new header where headers stand close",
			"[strip.eq.1]\ngain = 1.0\n[strip.eq.2]\ngain = 2.0\n[mic]\nkind = \"x\"\n",
			"[strip.eq.1]\ngain = 1.0\n[strip.eq.2]\ngain = 2.0\n[strip.eq.3]\ngain = 3.0\n[mic]\nkind = \"x\"\n",
			[]Edit{set("strip.eq.3.gain", 3.0)},
		},
		{
			"a new header as deep as the ones beside it",
			"[venue.net-loft.strip]\npan = 10\n",
			"[venue.net-loft.strip]\npan = 10\n\n[venue.old-hall.strip]\neq.2.gain = 2\n",
			[]Edit{set("venue.old-hall.strip.eq.2.gain", 2.0)},
		},
		{
			"the header that a table has done without",
			"name = \"poet\"\n\n# the bands\n[strip.eq.1]\ngain = 1.0\n",
			"name = \"poet\"\n\n[strip]\nfader = -6\n\n# the bands\n[strip.eq.1]\ngain = 1.0\n",
			[]Edit{set("strip.fader", -6.0)},
		},
		{
			"a dotted key in a table that has no tables yet",
			"[strip]\nfader = -6.0\n",
			"[strip]\nfader = -6.0\nlowcut.on = true\nlowcut.frequency = 80\n",
			[]Edit{set("strip.lowcut.on", true), set("strip.lowcut.frequency", 80.0)},
		},
		{
			"a table in braces",
			"[strip]\neq.2 = { kind = \"bell\", gain = -3.0 } # voice\n",
			"[strip]\neq.2 = { kind = \"bell\", gain = -3.0, q = 1.4 } # voice\n",
			[]Edit{set("strip.eq.2.q", 1.4)},
		},
		{
			"tight braces",
			"eq={kind='bell',gain=-3.0}\n",
			"eq={kind='bell',gain=-3.0,q=1.4}\n",
			[]Edit{set("eq.q", 1.4)},
		},
		{
			"empty braces",
			"eq = {}\n",
			"eq = { q = 1.4 }\n",
			[]Edit{set("eq.q", 1.4)},
		},
		{
			"dotted keys in braces",
			"eq = { 1.gain = 1.0, on = true }\n",
			"eq = { 1.gain = 1.0, 1.q = 1.4, on = true }\n",
			[]Edit{set("eq.1.q", 1.4)},
		},
		{
			"braces with a comma at the end",
			"eq = { gain = 1.0, }\n",
			"eq = { gain = 1.0, q = 1.4, }\n",
			[]Edit{set("eq.q", 1.4)},
		},
		{
			"braces over several lines",
			"eq = {\n  kind = \"bell\",\n  gain = -3.0 # dB\n}\n",
			"eq = {\n  kind = \"bell\",\n  gain = -3.0, # dB\n  q = 1.4\n}\n",
			[]Edit{set("eq.q", 1.4)},
		},
		{
			"braces over several lines with a comma at the end",
			"eq = {\n  kind = \"bell\",\n  gain = -3.0, # dB\n}\n",
			"eq = {\n  kind = \"bell\",\n  gain = -3.0, # dB\n  q = 1.4,\n}\n",
			[]Edit{set("eq.q", 1.4)},
		},
		{
			"a new table in braces beside others",
			"[strip]\neq.1 = {gain = 1.0}\neq.2 = {gain = 2.0}\nfader = -6.0\n",
			"[strip]\neq.1 = {gain = 1.0}\neq.2 = {gain = 2.0}\neq.3 = {gain = 3.0, q = 1.4}\nfader = -6.0\n",
			[]Edit{set("strip.eq.3.gain", 3.0), set("strip.eq.3.q", 1.4)},
		},
		{
			"a band between two others, by number",
			"[strip]\neq.1.gain = 1.0\neq.3.gain = 3.0\n",
			"[strip]\neq.1.gain = 1.0\neq.2.gain = 2.0\neq.3.gain = 3.0\n",
			[]Edit{set("strip.eq.2.gain", 2.0)},
		},
		{
			"a band before the others, by number",
			"[strip]\n# the bands\neq.2.gain = 2.0 # dB\neq.10.gain = 3.0\n",
			"[strip]\n# the bands\neq.1.gain = 1.0\neq.1.q = 1.4\neq.2.gain = 2.0 # dB\neq.10.gain = 3.0\n",
			[]Edit{set("strip.eq.1.gain", 1.0), set("strip.eq.1.q", 1.4)},
		},
		{
			"a header between two others, by number",
			"[strip.eq.1]\ngain = 1.0\n\n# the third\n[strip.eq.3]\ngain = 3.0\n",
			"[strip.eq.1]\ngain = 1.0\n\n[strip.eq.2]\ngain = 2.0\n\n# the third\n[strip.eq.3]\ngain = 3.0\n",
			[]Edit{set("strip.eq.2.gain", 2.0)},
		},
		{
			"a header before the others, by number",
			"[strip]\npan = 10\n\n[strip.eq.3]\ngain = 3.0\n",
			"[strip]\npan = 10\n\n[strip.eq.2]\ngain = 2.0\n\n[strip.eq.3]\ngain = 3.0\n",
			[]Edit{set("strip.eq.2.gain", 2.0)},
		},
		{
			"in braces before the others, by number",
			"eq = { 2.gain = 2.0, 3.gain = 3.0 }\n",
			"eq = { 1.gain = 1.0, 2.gain = 2.0, 3.gain = 3.0 }\n",
			[]Edit{set("eq.1.gain", 1.0)},
		},
		{
			"in lines of braces before the others, by number",
			"eq = {\n  2.gain = 2.0, # dB\n}\n",
			"eq = {\n  1.gain = 1.0,\n  2.gain = 2.0, # dB\n}\n",
			[]Edit{set("eq.1.gain", 1.0)},
		},
		{"in an empty file", "", "name = \"poet\"\n", []Edit{set("name", "poet")}},
		{
			"a table in an empty file",
			"",
			"[strip]\neq.2.gain = -3\n\n[mic]\nkind = \"lavalier\"\n",
			[]Edit{set("strip.eq.2.gain", -3.0), set("mic.kind", "lavalier")},
		},
		{"in a file of comments", "# The poet.\n", "# The poet.\n\nname = \"poet\"\n", []Edit{set("name", "poet")}},
		{"a table in a file of comments", "# The poet.\n", "# The poet.\n\n[strip]\npan = 10\n", []Edit{set("strip.pan", 10.0)}},
		{
			"a first key above the first header, below the comment on the file",
			"# The poet.\n\n# her strip\n[strip]\npan = 10\n",
			"# The poet.\n\nname = \"poet\"\n\n# her strip\n[strip]\npan = 10\n",
			[]Edit{set("name", "poet")},
		},
		{
			"a further key above the first header",
			"name = \"poet\"\n\n# her strip\n[strip]\npan = 10\n",
			"name = \"poet\"\ndistance = 0.2\n\n# her strip\n[strip]\npan = 10\n",
			[]Edit{set("distance", 0.2)},
		},
		{
			"a table in a file without headers",
			"name = \"poet\"\n",
			"name = \"poet\"\n\n[strip]\npan = 10\n",
			[]Edit{set("strip.pan", 10.0)},
		},
		{
			"a table in a file whose tables are dotted",
			"mic.kind = \"lavalier\"\nname = \"poet\"\n",
			"mic.kind = \"lavalier\"\nname = \"poet\"\nstrip.pan = 10\n",
			[]Edit{set("strip.pan", 10.0)},
		},
		{
			"a table in a file without a last line ending",
			"[mic]\nkind = \"lavalier\"",
			"[mic]\nkind = \"lavalier\"\n\n[strip]\npan = 10",
			[]Edit{set("strip.pan", 10.0)},
		},
		{
			"a table behind a comment that isn't its own",
			"name = \"poet\"\n[mic]\nkind = \"lavalier\"\n# the end\n",
			"name = \"poet\"\n[mic]\nkind = \"lavalier\"\n# the end\n\n[strip]\npan = 10\n",
			[]Edit{set("strip.pan", 10.0)},
		},
		{
			"a table behind a list of tables",
			"[[position]]\nname = \"lectern\"\n\n[[position]]\nname = \"table left\"\n",
			"[[position]]\nname = \"lectern\"\n\n[[position]]\nname = \"table left\"\n\n[limit]\nmain = 6\n",
			[]Edit{set("limit.main", 6.0)},
		},
	} {
		t.Run(test.name, func(t *testing.T) { checkEdits(t, test.before, test.after, test.edits...) })
	}
}

func TestAnEditThatCanNotBeMadeSaysWhyAndWhatToWrite(t *testing.T) {
	text := "name = \"poet\"\nlist = [1]\n\n[strip]\npan = 10\n\n[[position]]\nname = \"lectern\"\n"
	for _, test := range []struct {
		edit Edit
		want string
	}{
		{set("name.first", 1.0), `poet.toml:1: can't set name.first: "name" is the text "poet", so nothing can be inside it; write name.first = 1 by hand where you want it`},
		{set("strip", 1.0), `poet.toml:4: can't set strip: "strip" is a table; write strip = 1 by hand where you want it`},
		{set("list", 1.0), `poet.toml:2: can't set list: "list" is a list; write list = 1 by hand where you want it`},
		{set("position.name", "x"), `poet.toml:7: can't set position.name: "position" is a list of tables, and the path doesn't say which; write position.name = "x" by hand where you want it`},
		{set("strip.pan", math.NaN()), `poet.toml: can't set strip.pan: nan is no setting`},
		{set("strip.pan", "\xff"), `poet.toml: can't set strip.pan: a text must be valid UTF-8`},
		{set("strip.pan", []int{1}), `poet.toml: can't set strip.pan: a value of type []int can't be written`},
		{Edit{nil, 1.0}, `poet.toml: can't set : a path has 1 to 32 keys`},
	} {
		d, err := Parse("poet.toml", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		got, err := d.Apply(set("strip.pan", 12.0), test.edit)
		if got != nil || err == nil {
			t.Fatalf("%v: an edit that can't be made gave a text", test.edit)
		}
		if diff := cmp.Diff(test.want, err.Error()); diff != "" {
			t.Errorf("(-want +got):\n%s", diff)
		}
		var fault *Fault
		if !errors.As(err, &fault) {
			t.Errorf("%v is no fault", err)
		}
	}
}
