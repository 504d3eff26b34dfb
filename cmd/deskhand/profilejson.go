package main

import (
	"strings"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/source"
)

// jsonProfile is what profile check prints of a profile alone.
type jsonProfile struct {
	File     string        `json:"file"`
	Name     string        `json:"name"`
	About    string        `json:"about"`
	Faults   []jsonFault   `json:"faults"`
	Size     *jsonSize     `json:"size"`
	Sound    *jsonSound    `json:"sound"`
	Reach    []jsonReach   `json:"reach"`
	Examples []jsonExample `json:"examples"`
	Exit     int           `json:"exit"`
}

type jsonSize struct {
	Channels int `json:"channels"`
	Mixes    int `json:"mixes"`
	Bands    int `json:"bands"`
	Groups   int `json:"groups"`
	Settings int `json:"settings"`
	OverOSC  int `json:"over_osc"`
	ToldOnly int `json:"told_only"`
	ByHand   int `json:"by_hand"`
	Fixed    int `json:"fixed"`
}

// jsonSound is how a desk works out its sound: Hz, keep or narrow, dB, and dBu, null
// where the profile doesn't say.
type jsonSound struct {
	Rate      float64  `json:"rate"`
	Bells     string   `json:"bells"`
	PanLaw    float64  `json:"pan_law"`
	FullScale *float64 `json:"full_scale"`
}

func soundJSON(p *profiles.Profile) *jsonSound {
	bells := "keep"
	if p.Sound.BellsNarrow {
		bells = "narrow"
	}
	return &jsonSound{p.Sound.Rate, bells, p.Sound.PanLaw, p.Sound.FullScale}
}

func sizeJSON(p *profiles.Profile) *jsonSize {
	counts := reachCounts(p)
	return &jsonSize{
		p.Channels, p.Mixes, p.Bands, p.Groups, len(p.Parameters()),
		counts[profiles.OverOSC], counts[profiles.TellOnly], counts[profiles.ByHand], counts[profiles.Fixed],
	}
}

// jsonReach says of a parameter how the desk has it at each part: a list of osc, told,
// hand and fixed, empty where the desk has none.
type jsonReach struct {
	Name    string   `json:"name"`
	Label   string   `json:"label"`
	Unit    string   `json:"unit"`
	Own     bool     `json:"own"`
	Channel []string `json:"channel"`
	Mix     []string `json:"mix"`
	Main    []string `json:"main"`
}

func reachJSON(r reached) jsonReach {
	words := func(part profiles.Part) []string {
		return listOf(r.at[part], func(reach profiles.Reach) string { return strings.ToLower(reachWord(reach)) })
	}
	return jsonReach{
		r.spec.Name, r.spec.Label, string(r.spec.Unit), r.own,
		words(profiles.Channel), words(profiles.Mix), words(profiles.Main),
	}
}

// jsonExample is the first of some parameters that the profile says the same of; the
// messages are null where there are none.
type jsonExample struct {
	jsonSetting
	Says   string       `json:"says"`
	Of     int          `json:"of"`
	Steps  int          `json:"steps"`
	Tell   *jsonMessage `json:"tell"`
	Ask    *jsonMessage `json:"ask"`
	Answer *jsonMessage `json:"answer"`
	Hand   string       `json:"hand"`
}

type jsonMessage struct {
	Text  string `json:"text"`
	Bytes string `json:"bytes"`
}

func messageJSON(m osc.Message) *jsonMessage {
	if m.Address == "" {
		return nil
	}
	return &jsonMessage{m.String(), strings.Join(byFours(m), "")}
}

func exampleJSON(p *profiles.Profile, k kind) jsonExample {
	control, _ := p.Control(k.first)
	x, ok := p.Example(k.first)
	if !ok {
		x.Value = control.Start
	}
	return jsonExample{
		settingJSON(p, k.first, x.Value), control.Spec.Say(x.Value), k.n, control.Curve.Steps(),
		messageJSON(x.Tell), messageJSON(x.Ask), messageJSON(x.Answer), control.Hand,
	}
}

func profileJSON(p *profiles.Profile, reach []reached, kinds []kind) jsonProfile {
	return jsonProfile{
		File: p.File, Name: p.Name, About: p.About, Faults: []jsonFault{}, Size: sizeJSON(p), Sound: soundJSON(p),
		Reach:    listOf(reach, reachJSON),
		Examples: listOf(kinds, func(k kind) jsonExample { return exampleJSON(p, k) }),
		Exit:     exitDone,
	}
}

func faultyProfileJSON(file string, faults source.Faults) jsonProfile {
	return jsonProfile{
		File: file, Faults: jsonFaults(faults.Sorted()), Reach: []jsonReach{}, Examples: []jsonExample{}, Exit: exitDiffers,
	}
}

// jsonListed is one profile of profile list; size is null where it has faults.
type jsonListed struct {
	Name     string      `json:"name"`
	File     string      `json:"file"`
	InBook   bool        `json:"in_book"`
	About    string      `json:"about"`
	Faults   []jsonFault `json:"faults"`
	Size     *jsonSize   `json:"size"`
	Sound    *jsonSound  `json:"sound"`
	Over     string      `json:"over"`
	Answers  bool        `json:"answers"`
	Followed bool        `json:"followed"`
	Lacks    []string    `json:"lacks"`
}

func listedJSON(all []listed) any {
	return struct {
		Profiles []jsonListed `json:"profiles"`
		Exit     int          `json:"exit"`
	}{listOf(all, func(l listed) jsonListed {
		out := jsonListed{Name: l.name, File: l.file, InBook: l.inBook, Faults: jsonFaults(l.faults), Lacks: []string{}}
		if p := l.profile; p != nil {
			requests, _ := p.AskToFollow()
			out.About, out.Size, out.Sound, out.Over = p.About, sizeJSON(p), soundJSON(p), p.Link.Over.String()
			out.Answers, out.Followed = p.CanAnswer(), len(requests) > 0
			out.Lacks = append(out.Lacks, lacksOf(p)...)
		}
		return out
	}), exitDone}
}
