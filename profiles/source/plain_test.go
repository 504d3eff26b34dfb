package source

import (
	"io/fs"
	"strings"
	"testing"

	"deskhand/testdata"

	"pgregory.net/rapid"
)

// The words of plain texts and of texts that nearly are: few keys, so that many are given twice.
var (
	plainKeys   = []string{"a", "b", "c", "1", "a.b", "b.c", "a.b.c", "c . a", "'a'"}
	plainValues = []string{
		"true", "false", "inf", "-inf", "+inf", "nan", "0", "-0", "+0", "7", "-12", "007", "1.5", "-0.0", "1.", ".5", "-.5", "+1.50", "1_000", "1e3",
		"9223372036854775807", "9223372036854775808", "0x1f", "1979-05-27", "07:32", "1 2", "''", `""`, `"é 'x' #"`, `'é "x" \'`, `"\t"`, "\"\t\"", "\"\x00\"", "\"\xff\"",
		"[]", "[1, 'x']", "{}", "{ a = 1 }", "{a=1,b.c=2}", "{ a = 1, }", "{ a = 1, a = 2 }", "{ a = { b = 1 }, a.c = 2 }", "{ a =\n1 }", "{ a = 1 # c\n }",
	}
	plainEnds  = []string{"", "", "", " # note", "\t#", " # \x01", " #\r", " x"}
	plainHeads = []string{"[%]", "[ % ]", "[%] # note", "[[%]]"}
)

func drawNearlyPlain(t *rapid.T) string {
	var text strings.Builder
	for range rapid.IntRange(0, 8).Draw(t, "lines") {
		key := rapid.SampledFrom(plainKeys).Draw(t, "key")
		if rapid.IntRange(0, 2).Draw(t, "header") == 0 {
			text.WriteString(strings.ReplaceAll(rapid.SampledFrom(plainHeads).Draw(t, "brackets"), "%", key))
		} else {
			text.WriteString(key + " = " + rapid.SampledFrom(plainValues).Draw(t, "value"))
		}
		text.WriteString(rapid.SampledFrom(plainEnds).Draw(t, "end"))
		text.WriteString(rapid.SampledFrom([]string{"\n", "\n", "\n\n", "\r\n"}).Draw(t, "line end"))
	}
	return text.String()
}

func TestWhatIsReadWithoutTheDecoderIsWhatTheDecoderReads(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := drawNearlyPlain(t)
		d, err := Parse("f", []byte(text))
		if err != nil {
			return // FuzzParse looks that the decoder, too, refuses what it may
		}
		tree, err := decode([]byte(text))
		if err != nil {
			t.Fatalf("%q is read, but the decoder says: %v", text, err)
		}
		if !same(tree, d.root.tree()) {
			t.Fatalf("%q is read as %v, but the decoder reads %v", text, d.root.tree(), tree)
		}
	})
}

func TestThePerformersOfTheExampleNeedNoDecoder(t *testing.T) {
	files, err := fs.Glob(testdata.Book(), "performers/*.toml")
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	for _, file := range files {
		text, err := fs.ReadFile(testdata.Book(), file)
		if err != nil {
			t.Fatal(err)
		}
		if _, plain, fault := scan(file, text); fault != nil || !plain {
			t.Errorf("%s is not plain: %v", file, fault)
		}
	}
}
