package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/profiles/source"
)

// longestTyped bounds a line that is typed at the mock desk, in bytes.
const longestTyped = 4096

// typed is a line of the input, or why there is none.
type typed struct {
	line string
	err  error
}

// hands does what is typed until the context ends. The end of the input does not end
// it.
func (m *mockTalk) hands(ctx context.Context, desk *mockdesk.Desk) {
	lines := make(chan typed)
	go readTyped(ctx, m.app.in, lines) // nothing can wake it from its reading but the input, or the program's end
	for {
		select {
		case <-ctx.Done():
			return
		case t := <-lines:
			if t.err == nil {
				t.err = m.hand(desk, t.line)
			}
			if t.err != nil {
				m.app.complain(t.err)
			}
		}
	}
}

// readTyped passes on what is typed until the input ends.
func readTyped(ctx context.Context, in io.Reader, lines chan<- typed) {
	reader := bufio.NewReaderSize(in, longestTyped)
	for {
		line, err := typedLine(reader)
		if errors.Is(err, errInputEnded) {
			return
		}
		select {
		case lines <- typed{line, err}:
		case <-ctx.Done():
			return
		}
	}
}

var (
	errTooLong    = errors.New("that line is too long for a hand move")
	errInputEnded = errors.New("the input has ended")
)

// typedLine gives the next line, without what surrounds it. What is too long is
// skipped.
func typedLine(lines *bufio.Reader) (string, error) {
	line, more, err := lines.ReadLine()
	if err != nil {
		return "", errInputEnded
	}
	text := strings.TrimSpace(string(line))
	if !more {
		return text, nil
	}
	for more && err == nil {
		_, more, err = lines.ReadLine()
	}
	if err != nil && !errors.Is(err, io.EOF) {
		return "", errInputEnded
	}
	return "", errTooLong
}

// hand does what one typed line says.
func (m *mockTalk) hand(desk *mockdesk.Desk, line string) error {
	word, rest, _ := strings.Cut(line, " ")
	switch line {
	case "":
		return nil
	case "restart":
		desk.Restart(0)
		return nil
	}
	q, control, err := m.typedSetting(word)
	if err != nil {
		return err
	}
	rest = strings.TrimSpace(rest)
	if rest == "" {
		held, _ := desk.Holds(q)
		m.print(mockEvent{Event: "holds", jsonSetting: settingJSON(m.profile, q, held)},
			fmt.Sprintf("%-8s %s %s", "holds", q, control.Spec.Say(held)))
		return nil
	}
	v, err := typedValue(control, rest)
	if err != nil {
		return fmt.Errorf("%s: %w", q, err)
	}
	_, err = desk.Move(q, v)
	return err
}

// typedSetting finds the setting that a word names.
func (m *mockTalk) typedSetting(word string) (profiles.Parameter, *profiles.Control, error) {
	q, err := profiles.ParseParameter(word)
	if err != nil {
		return q, nil, fmt.Errorf("%q is no setting of a desk: type one and its value, as channel.3.fader -4.5", word)
	}
	if len(m.profile.At(q.Place)) == 0 {
		return q, nil, fmt.Errorf("%s has no %s: it has %d channels and %d mixes", m.profile.Name, q.Place.Say(), m.profile.Channels, m.profile.Mixes)
	}
	control, ok := m.profile.Control(q)
	if !ok {
		return q, nil, fmt.Errorf("%s has no %q at %s%s", m.profile.Name, q.Name, q.Place.Say(), source.DidYouMean(q.Name, m.profile.Names(q.Place.Part)))
	}
	return q, control, nil
}

// typedValue reads a value as a person types it at the mock desk: a number with or
// without its unit, on or off, a word.
func typedValue(control *profiles.Control, text string) (profiles.Value, error) {
	switch control.Spec.Kind {
	case profiles.Toggle:
		i := slices.Index([]string{"off", "on", "false", "true"}, text)
		if i < 0 {
			return profiles.Value{}, fmt.Errorf("%q is not a switch: type on or off", text)
		}
		return profiles.Switch(i%2 == 1), nil
	case profiles.Text, profiles.Choice:
		if unquoted, err := strconv.Unquote(text); err == nil {
			text = unquoted
		}
		return profiles.Word(text), nil
	}
	n, err := typedNumber(control.Spec.Unit, text)
	if err != nil {
		return profiles.Value{}, err
	}
	return profiles.ValueOf(n)
}

// typedNumber reads a number as the trade writes it: -4.5, -4.5 dB, 2.5 kHz, 3:1, L30.
func typedNumber(unit profiles.Unit, text string) (float64, error) {
	figure, factor := text, 1.0
	switch kilo, isKilo := strings.CutSuffix(text, "kHz"); {
	case unit == profiles.Hertz && isKilo:
		figure, factor = kilo, 1000
	case unit == profiles.Ratio:
		figure = strings.TrimSuffix(text, ":1")
	case unit == profiles.PanUnit && text == "centre":
		return 0, nil
	case unit == profiles.PanUnit && strings.HasPrefix(text, "L"):
		figure, factor = text[1:], -1
	case unit == profiles.PanUnit:
		figure = strings.TrimPrefix(text, "R")
	default:
		figure = strings.TrimSuffix(text, string(unit))
	}
	n, err := strconv.ParseFloat(strings.TrimSpace(figure), 64)
	switch {
	case err == nil:
		return n * factor, nil
	case unit == profiles.NoUnit || unit == profiles.PanUnit || unit == profiles.Ratio:
		return 0, fmt.Errorf("%q is not a number", text)
	}
	return 0, fmt.Errorf("%q is not a number in %s", text, unit)
}
