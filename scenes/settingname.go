package scenes

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/source"
)

// SettingName turns a setting that a person named, or the beginning of one, into the
// desk's name for it: "send.wedge" is "send.1" where the wedge is mix 1. What is
// nothing on the position's channel is an error with the nearest right word.
func (v *Venue) SettingName(p *Position, word string) (string, error) {
	words := strings.Split(word, ".")
	if len(words) > 1 && words[0] == "send" {
		if number, ok := v.mix(words[1]); ok {
			words[1] = strconv.Itoa(number)
		}
	}
	all := v.Desk.Profile.At(p.Place())
	if slices.ContainsFunc(all, func(q profiles.Parameter) bool { return beginsWith(strings.Split(q.Name, "."), words) }) {
		return strings.Join(words, "."), nil
	}
	var names []string
	for _, q := range all {
		names = append(names, q.Name)
		if head, _, nested := strings.Cut(q.Name, "."); nested && !slices.Contains(names, head) {
			names = append(names, head)
		}
	}
	return "", fmt.Errorf("channel %d has no setting %q%s", p.Channel, word, source.DidYouMean(word, names))
}
