package desk

import (
	"context"
	"slices"
	"time"

	"deskhand/profiles"
)

// makeSure asks whether the ends of the lines are there, once no packet of a step can be
// under way any more, and sends again what is not. What can't be asked is sent once more.
func (g *glide) makeSure(ctx context.Context) error {
	if g.sent == nil {
		return nil
	}
	g.ears.beLenient()
	for i, r := range g.rails {
		if !g.profile.Askable(r.line.Parameter) {
			if err := g.step(ctx, i, r.line.To); err != nil {
				return err
			}
		}
	}
	silences := 0
	for round := 1; ; round++ {
		if err := sleep(ctx, time.Until(g.last.Add(g.profile.Link.Linger))); err != nil {
			return err
		}
		if err := g.askForEnds(ctx); err != nil || len(g.doubts) == 0 {
			return err
		}
		if slices.ContainsFunc(g.doubts, func(d Doubt) bool { return !d.Found.IsZero() }) {
			silences = 0
		} else if silences++; silences == glideSilences {
			return nil
		}
		if round == glideRounds {
			return nil
		}
		if err := g.resend(ctx); err != nil {
			return err
		}
	}
}

// askForEnds asks for the ends that are not confirmed yet, and notes which are in doubt. An
// answer that is none of our steps is a hand's, which the ears note.
func (g *glide) askForEnds(ctx context.Context) error {
	var hoped []Hoped
	for _, r := range g.rails {
		_, known := g.proof[r.line.Parameter]
		if !known && !g.ears.isMoved(r) && g.profile.Askable(r.line.Parameter) {
			hoped = append(hoped, Expect(profiles.Setting{Parameter: r.line.Parameter, Value: r.line.To}))
		}
	}
	confirmed, doubts, err := g.Confirm(ctx, hoped, nil)
	for _, c := range confirmed {
		g.proof[c.setting.Parameter] = c
	}
	g.doubts = slices.DeleteFunc(doubts, func(d Doubt) bool { return g.ears.isMoved(g.ears.rail(d.Wanted.Parameter)) })
	return err
}

func (g *glide) resend(ctx context.Context) error {
	for i, r := range g.rails {
		if slices.ContainsFunc(g.doubts, func(d Doubt) bool { return d.Wanted.Parameter == r.line.Parameter }) {
			if err := g.step(ctx, i, r.line.To); err != nil {
				return err
			}
		}
	}
	return nil
}
