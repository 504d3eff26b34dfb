package main

import (
	"cmp"
	"errors"
	"fmt"
	"strings"

	"deskhand/scenes"
)

// showOrder prints a running order as it will be played.
func (a *app) showOrder(b *scenes.Book, name, position string, into *pictureFile) error {
	switch {
	case position != "":
		return errors.New("--position is for a performer, a scene or a venue: leave it out with a running order")
	case into != nil:
		return errors.New("--plot is for a performer, a scene or a venue: a running order has no curves of its own")
	}
	order, err := a.runningOrder(b, name)
	if err != nil {
		return err
	}
	s, err := b.Sheet(order)
	if err != nil {
		return err
	}
	if a.json {
		a.printJSON(shownOrderJSON(s))
		return nil
	}
	a.sayOrder(s)
	return nil
}

// standing is how a position stands in one scene; stays says that the scene doesn't speak of
// it.
type standing struct {
	position  *scenes.Position
	performer string
	open      *bool
	stays     bool
}

// standingIn lists how the positions stand in a scene, by channel. A position that no scene
// has spoken of yet is not among them.
func standingIn(s *scenes.Sheet, scene int) []standing {
	var all []standing
	for _, in := range s.Inputs {
		for _, t := range in.Turns {
			if t.First <= scene && scene <= t.Last {
				all = append(all, standing{in.Position, t.Performer, t.Open, s.Order.Items[scene-1].Scene.On(in.Position.Name) == nil})
			}
		}
	}
	return all
}

func (a *app) sayOrder(s *scenes.Sheet) {
	words := []string{s.Order.Name}
	if s.Order.Title != "" {
		words = append(words, s.Order.Title)
	}
	fmt.Fprintln(a.out, a.paint.head(strings.Join(append(words, s.Venue.Name), " · ")))
	for i, it := range s.Order.Items {
		fmt.Fprintln(a.out, "\n"+a.paint.head(sayPlayed(s.Order, i)))
		for _, at := range standingIn(s, i+1) {
			fmt.Fprintln(a.out, "  "+sayStanding(at))
		}
		for line := range strings.Lines(it.Notes) {
			fmt.Fprintln(a.out, "  note: "+strings.TrimRight(line, "\n"))
		}
	}
}

// sayPlayed names a scene with what is planned for it.
func sayPlayed(o *scenes.RunningOrder, i int) string {
	it := o.Items[i]
	words := []string{fmt.Sprintf("%d of %d", i+1, len(o.Items)), it.Title}
	if plan := planOf(it); plan != "" {
		words = append(words, plan)
	}
	if it.Scene.Fade.Time > 0 {
		words = append(words, sayFade(it.Scene.Fade))
	}
	return strings.Join(words, " · ")
}

func sayStanding(at standing) string {
	words := []string{at.position.Name, at.position.Place().Say(), cmp.Or(at.performer, "nobody")}
	switch {
	case at.open != nil:
		words = append(words, map[bool]string{true: "open", false: "muted"}[*at.open])
	case !at.stays:
		words = append(words, "open if it was open")
	}
	text := strings.Join(words, " · ")
	if at.stays {
		text += "  (as before)"
	}
	return text
}

type jsonShownOrder struct {
	Order  string           `json:"running_order"`
	Title  string           `json:"title"`
	Venue  string           `json:"venue"`
	Desk   string           `json:"desk"`
	Scenes []jsonShownScene `json:"scenes"`
	Exit   int              `json:"exit"`
}

type jsonShownScene struct {
	Number int    `json:"number"`
	Title  string `json:"title"`
	// File is the scene's, or the running order's for one in line.
	File  string  `json:"file"`
	Line  int     `json:"line"`  // in the running order
	Start *string `json:"start"` // null: not planned
	// Length and Fade are 0 where there is none.
	Length    float64        `json:"length_seconds"`
	Notes     string         `json:"notes"`
	Fade      float64        `json:"fade_seconds"`
	FadeOrder string         `json:"fade_order"`
	Positions []jsonStanding `json:"positions"`
}

type jsonStanding struct {
	Position  string `json:"position"`
	Place     string `json:"place"`
	Performer string `json:"performer"`
	Open      *bool  `json:"open"` // null: no scene so far says it
	Stays     bool   `json:"stays"`
}

func shownOrderJSON(s *scenes.Sheet) jsonShownOrder {
	out := jsonShownOrder{Scenes: []jsonShownScene{}, Order: s.Order.Name, Title: s.Order.Title, Venue: s.Venue.Name, Desk: s.Venue.Desk.Profile.Name}
	for i, it := range s.Order.Items {
		shown := jsonShownScene{
			Number: i + 1, Title: it.Title, File: it.Scene.File, Line: it.Line, Start: startJSON(it), Length: it.Length.Seconds(), Notes: it.Notes,
			Fade: it.Scene.Fade.Time.Seconds(), FadeOrder: it.Scene.Fade.Order(),
			Positions: listOf(standingIn(s, i+1), func(at standing) jsonStanding {
				return jsonStanding{at.position.Name, at.position.Place().String(), at.performer, at.open, at.stays}
			}),
		}
		out.Scenes = append(out.Scenes, shown)
	}
	return out
}
