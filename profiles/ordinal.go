package profiles

import "deskhand/osc"

// Ordinal is a parameter's number in its profile, in the order of [Profile.Parameters]
// from 1 on. It is much quicker to look up than the parameter, and means
// nothing outside of the profile.
type Ordinal int32

// WhoOrdinal is that of [Who], in every profile.
const WhoOrdinal Ordinal = 0

// Parameter gives the parameter of an ordinal, which must be of this profile.
func (p *Profile) Parameter(o Ordinal) Parameter {
	if o == WhoOrdinal {
		return Who
	}
	return p.parameters[o-1]
}

// entry is that of an ordinal other than WhoOrdinal.
func (p *Profile) entry(o Ordinal) *entry { return &p.listed[o-1] }

// enterOrdinals numbers the parameters, and lists their entries in that order.
func (p *Profile) enterOrdinals() {
	p.listed = make([]entry, len(p.parameters))
	for i, q := range p.parameters {
		e := p.entries[q]
		e.ordinal = Ordinal(i + 1)
		p.entries[q], p.listed[i] = e, e
	}
}

// enterOrdinals gives a unit those of its members.
func (u *unit) enterOrdinals(p *Profile) {
	u.ordinals = make([]Ordinal, len(u.members))
	for i, q := range u.members {
		u.ordinals[i] = p.entries[q].ordinal
	}
}

// inParameters gives questions about ordinals as such about parameters.
func (p *Profile) inParameters(questions []osc.Question[Ordinal]) []osc.Question[Parameter] {
	all := make([]osc.Question[Parameter], len(questions))
	for i, question := range questions {
		all[i] = osc.Question[Parameter]{Message: question.Message, Keys: make([]Parameter, len(question.Keys))}
		for j, o := range question.Keys {
			all[i].Keys[j] = p.Parameter(o)
		}
	}
	return all
}
