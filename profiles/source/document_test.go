package source

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// parsed is a document that must be free of faults of syntax.
func parsed(t *testing.T, text string) *Document {
	t.Helper()
	d, err := Parse("poet.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func checkFaults(t *testing.T, d *Document, want ...string) {
	t.Helper()
	if diff := cmp.Diff(strings.Join(want, "\n"), d.Faults().Error()); diff != "" {
		t.Errorf("faults (-want +got):\n%s", diff)
	}
}

func TestAFaultOfSyntaxHasItsLineAndSaysWhatToDo(t *testing.T) {
	for _, test := range []struct{ name, text, want string }{
		{"no value", "a = 1\nb =\nc = 3\n", `2: a value should stand here, but the line ends`},
		{"a value missing at the end", "a = 1\nb = ", `2: a value should stand here, but the file ends`},
		{"no equals sign", "a = 1\ngain 3\n", `2: a key should be followed by "=", but there is '3'`},
		{"no key", "= 3\n", `1: a key should stand here, but there is '='`},
		{"a text without quotes", "a = 1\nkind = bell\n", `2: bell is no value: a text needs quotes, "bell"`},
		{"a switch with a capital", "on = True\n", `1: True is written true`},
		{"an open text", "a = 1\nb = \"x\nc = 1\n", `2: the text has no closing " on its line`},
		{"an open text at the end", "a = 'x", `1: the text has no closing '`},
		{"an open text of several lines", "a = 1\nb = \"\"\"x\n\n\n", `2: the text that begins here has no closing """`},
		{"an open list", "a = 1\nb = [\n1,\n\n", `2: the list that begins here has no closing "]"`},
		{"an open table", "a = 1\nb = {\nc = 1,\n\n", `2: the table that begins here has no closing "}"`},
		{"no comma", "b = [\n1\n2\n]\n", `3: a "," or the closing "]" of the list should stand here, but there is '2'`},
		{"two values", "a = 1\nb = \"x\" \"y\"\n", `2: the line should end here or go on with a comment, but there is '"'`},
		{"an open header", "a = 1\n[strip\n", `2: the name of a table should end with "]", but the line ends`},
		{"a bad escape in a key", "\"\\q\" = 1\n", `1: \q means nothing in a text; a single \ is written \\`},
		{"no character in a key", "\"\\uD800\" = 1\n", `1: \uD800 is no character`},
		{"a key twice", "[strip]\ngain = 1\n\ngain = 2\n", `4: "strip.gain" is given a second time; the first is on line 2`},
		{"a key twice in another spelling", "gain = 1\n\"g\\u0061in\" = 2\n", `2: "gain" is given a second time; the first is on line 1`},
		{"a table twice", "[strip]\na = 1\n[strip]\n", `3: "strip" is given a second time; the first is on line 1`},
		{"a table that is in braces", "strip = { a = 1 }\n[strip.eq]\n", `2: "strip" is already a table in braces, which is complete as it stands; the first is on line 1`},
		{"a table that is dotted", "[a]\nb.c = 1\n[a.b]\n", `3: "a.b" is already a table made by dotted keys; the first is on line 2`},
		{"a list that is a value", "a = []\n[[a]]\n", `2: "a" is already a list; the first is on line 1`},
		{"a dotted value that a list would drop", "a.b = 1\na = []\n", `2: "a" is already a table made by dotted keys; the first is on line 1`},
		{"a number the decoder refuses", "a = 1\nb = 1.\nc = 2\n", `2: invalid float "1.": '.' must be followed by one or more digits`},
		{"a date the decoder refuses", "a = 1\nb = 2026-13-01\n", `2: invalid datetime: "2026-13-01"`},
		{"a number past its range", "a = 1\n\nb = 9223372036854775808\n", `3: 9223372036854775808 is out of range for int64`},
		{"a bad escape in a value", "a = 1\nb = \"\\q\"\n", `2: invalid escape in string '\q'`},
		{"a stray byte", "a = 1\nb = \"\xff\"\n", `2: invalid UTF-8 byte: 0xff`},
		{"lists too deep", "a = " + strings.Repeat("[", 40) + strings.Repeat("]", 40), `1: tables and lists go more than 32 deep here`},
		{"keys too deep", "a" + strings.Repeat(".a", 40) + " = 1", `1: tables and lists go more than 32 deep here`},
		{"braces too deep", strings.Repeat("a={", 40) + strings.Repeat("}", 40), `1: tables and lists go more than 32 deep here`},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := Parse("poet.toml", []byte(test.text))
			if err == nil {
				t.Fatal("this was taken for TOML")
			}
			if diff := cmp.Diff("poet.toml:"+test.want, err.Error()); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestATextThatIsTooLongIsRefused(t *testing.T) {
	_, err := Parse("poet.toml", []byte(strings.Repeat("# word\n", 1<<20)))
	if want := "poet.toml: the file has 7340032 bytes; the most is 4194304"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

func TestEachGetterReadsItsKindOfValue(t *testing.T) {
	d := parsed(t, `text = 'a'
whole = 34
decimal = -3.5
silence = -inf
switch = true
length = "1m30s"
day = 2026-11-24
texts = ["a", "b"]
numbers = [1, -inf,
  2.5]
nested = [[1], { a = 2 }]
`)
	r := d.Root()
	got := map[string]any{}
	keep := func(key string, v any, ok bool) {
		if ok {
			got[key] = v
		}
	}
	text, ok := r.Text("text")
	keep("text", text, ok)
	whole, ok := r.Integer("whole")
	keep("whole", whole, ok)
	number, ok := r.Number("whole")
	keep("whole as a number", number, ok)
	decimal, ok := r.Number("decimal")
	keep("decimal", decimal, ok)
	silence, ok := r.Number("silence")
	keep("silence", FormatNumber(silence), ok)
	on, ok := r.Bool("switch")
	keep("switch", on, ok)
	length, ok := r.Duration("length")
	keep("length", length, ok)
	day, ok := r.Time("day")
	keep("day", day.Format(time.DateOnly), ok)
	texts, ok := r.Texts("texts")
	keep("texts", texts, ok)
	numbers, ok := r.Numbers("numbers")
	keep("numbers", []string{FormatNumber(numbers[0]), FormatNumber(numbers[1]), FormatNumber(numbers[2])}, ok)
	nested, ok := r.List("nested")
	keep("nested", nested, ok)
	want := map[string]any{
		"text": "a", "whole": 34, "whole as a number": 34.0, "decimal": -3.5, "silence": "-inf", "switch": true,
		"length": 90 * time.Second, "day": "2026-11-24", "texts": []string{"a", "b"},
		"numbers": []string{"1", "-inf", "2.5"}, "nested": []any{[]any{int64(1)}, map[string]any{"a": int64(2)}},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	checkFaults(t, d)
}

func TestAMissingKeyIsNoFault(t *testing.T) {
	d := parsed(t, "")
	r := d.Root()
	if _, ok := r.Text("a"); ok {
		t.Error("there is no text")
	}
	if _, ok := r.Tables("a"); ok {
		t.Error("there are no tables")
	}
	if r.Has("a") || r.LineOf("a") != 1 {
		t.Error("there is no key")
	}
	checkFaults(t, d)
}

func TestAValueOfAnotherKindIsAFaultOnItsLine(t *testing.T) {
	d := parsed(t, `a = 1
b = "x"
c = nan
d = 2.0
e = [
  1,
  "x",
]
f = 9007199254740993
g = "8 s"
h.x = 1
[[i]]
`)
	r := d.Root()
	r.Text("a")
	r.Text("a")
	r.Number("b")
	r.Number("c")
	r.Integer("d")
	r.Numbers("e")
	r.Number("f")
	r.Duration("g")
	r.Bool("h")
	r.Table("i")
	r.Tables("e")
	checkFaults(t, d,
		`poet.toml:1: "a" should be a text, but it is the number 1`,
		`poet.toml:2: "b" should be a number, but it is the text "x"`,
		`poet.toml:3: "c" should be a number, but it is nan`,
		`poet.toml:4: "d" should be a whole number, but it is the number 2.0`,
		`poet.toml:6: "e" should be a list of tables, but it holds the number 1`,
		`poet.toml:7: "e" should be a list of numbers, but it holds the text "x"`,
		`poet.toml:9: "f" should be a number, but it is 9007199254740993, which has too many digits`,
		`poet.toml:10: "g" should be a length of time such as "150ms" or "8s", but it is the text "8 s"`,
		`poet.toml:11: "h" should be true or false, but it is a table`,
		`poet.toml:12: "i" should be a table, but it is a list of tables`,
	)
}

func TestAKeyThatNobodyAskedForIsUnknown(t *testing.T) {
	d := parsed(t, `nmae = "poet"

[strip]
gian = 34
eq.2.freq = 2500
eq.2.gain = 1

[notes]
anything = 1

[[position]]
name = "lectern"
chanel = 3

[[position]]
bands = [{ q = 1, kid = "bell" }]
`)
	r := d.Root()
	r.Text("name")
	r.Value("notes")
	strip, _ := r.Table("strip")
	strip.Number("gain")
	eq, _ := strip.Table("eq")
	for _, key := range eq.Keys() {
		band, _ := eq.Table(key)
		band.Known("frequency", "gain")
		band.Has("gain")
	}
	positions, _ := r.Tables("position")
	for _, p := range positions {
		p.Text("name")
		p.Integer("channel")
		bands, _ := p.Tables("bands")
		for _, b := range bands {
			b.Number("q")
			b.Text("kind")
		}
	}
	strip.Fault("eq", "too many bands for %s", "this desk")
	strip.Fault("", "of the whole strip")
	checkFaults(t, d,
		`poet.toml:1: unknown key "nmae": did you mean "name"?`,
		`poet.toml:3: of the whole strip`,
		`poet.toml:4: unknown key "gian": did you mean "gain"?`,
		`poet.toml:5: too many bands for this desk`,
		`poet.toml:5: unknown key "freq": did you mean "frequency"?`,
		`poet.toml:13: unknown key "chanel": did you mean "channel"?`,
		`poet.toml:16: unknown key "kid": did you mean "kind"?`,
	)
}

func TestEveryTableKnowsItsPlace(t *testing.T) {
	d := parsed(t, "# top\n\n[strip]\n\"e\\u0071\" . 2 = { gain = 1,\n  q = 2 }\n\n[[position]]\n[[position]]\n[position.strip]\ngain = 2\n")
	r := d.Root()
	if diff := cmp.Diff([]string{"strip", "position"}, r.Keys()); diff != "" {
		t.Error(diff)
	}
	strip, _ := r.Table("strip")
	eq, _ := strip.Table("eq")
	band, _ := eq.Table("2")
	positions, _ := r.Tables("position")
	second, _ := positions[1].Table("strip")
	for _, test := range []struct {
		what      string
		got, want any
	}{
		{"the root's line", r.Line(), 1},
		{"the root's path", len(r.Path()), 0},
		{"the strip's line", strip.Line(), 3},
		{"the band's line", band.Line(), 4},
		{"the band's path", band.Path(), []string{"strip", "eq", "2"}},
		{"the line of a key of the band", band.LineOf("q"), 5},
		{"the line of a missing key", band.LineOf("kind"), 4},
		{"the path in a list", second.Path(), []string{"position", "1", "strip"}},
		{"the line in a list", second.LineOf("gain"), 10},
	} {
		if diff := cmp.Diff(test.want, test.got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", test.what, diff)
		}
	}
}
