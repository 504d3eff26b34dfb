package trace

import (
	"fmt"
	"strconv"
	"strings"

	"deskhand/profiles"

	"github.com/BurntSushi/toml"
)

// kindOf is what [values] calls the kind of a parameter.
func kindOf(spec profiles.Spec) string {
	switch spec.Kind {
	case profiles.Toggle:
		return "switch"
	case profiles.Choice:
		return "choice"
	}
	return "number"
}

// usual is what the format takes for granted.
var usual = map[string]map[string]string{
	"number": {"as": `"float"`, "decimals": "1", "write": `"{}"`},
	"switch": {"as": `"int"`},
	"choice": {"as": `"int"`},
}

// fields puts the entry together, without what the format or [values] says already.
func (l *learner) fields(spec profiles.Spec, at place, v valued) []Field {
	fields := []Field{{"at", tomlText(at.pattern)}}
	if at.slots > 1 {
		fields = append(fields, Field{"slot", strconv.Itoa(at.slot)})
	}
	fields = append(fields, v.curve...)
	kind := kindOf(spec)
	for _, key := range []string{"as", "wire", "silent", "write", "decimals", "words"} {
		want, needed := v.form[key]
		if !needed {
			want, needed = usualFor(key, v.form["as"], l.values[kind], v.curve)
		}
		said, isSaid := l.values[kind][key]
		switch {
		case !needed || isSaid && sameTOML(want, said):
		case !isSaid && want == usual[kind][key]:
		default:
			fields = append(fields, Field{key, want})
		}
	}
	return fields
}

// usualFor gives the usual value of a key where [values] says another that must not
// count for this entry.
func usualFor(key, as string, says map[string]any, curve []Field) (string, bool) {
	if _, said := says[key]; !said {
		return "", false
	}
	switch {
	case key == "words" && as == `"word"`:
		return namesOf(curve), true
	case key == "wire" && as == `"switch"`, key == "wire" && (as == `"float"` || as == `"double"`):
		return "[0, 1]", true
	case key == "wire" && (as == `"int"` || as == `"long"`):
		return "[0, " + strconv.Itoa(stepsOf(curve)-1) + "]", true
	}
	return "", false
}

// namesOf are the words of a choice, or of a switch.
func namesOf(curve []Field) string {
	for _, f := range curve {
		if f.Key == "choice" {
			return f.TOML
		}
	}
	return tomlTexts([]string{"off", "on"})
}

// stepsOf is the number of steps of a curve in the words of a profile.
func stepsOf(curve []Field) int {
	for _, f := range curve {
		switch f.Key {
		case "steps":
			n, _ := strconv.Atoi(f.TOML)
			return n
		case "choice":
			var v struct{ X []string }
			_ = toml.Unmarshal([]byte("X = "+f.TOML), &v) // we wrote it
			return len(v.X)
		}
	}
	return 2
}

// sameTOML reports whether a value as we write it is one that was decoded.
func sameTOML(text string, decoded any) bool {
	var v struct{ X any }
	return toml.Unmarshal([]byte("X = "+text), &v) == nil && canonical(v.X) == canonical(decoded)
}

// canonical writes a decoded value such that 1 and 1.0 are the same.
func canonical(v any) string {
	switch v := v.(type) {
	case int64:
		return strconv.FormatFloat(float64(v), 'g', -1, 64)
	case float64:
		return strconv.FormatFloat(v, 'g', -1, 64)
	case []any:
		var list []string
		for _, x := range v {
			list = append(list, canonical(x))
		}
		return "[" + strings.Join(list, ",") + "]"
	}
	return fmt.Sprintf("%q", fmt.Sprint(v))
}
