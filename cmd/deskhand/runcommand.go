package main

import (
	"fmt"
	"strconv"
	"strings"

	"deskhand/profiles/source"
	"deskhand/scenes"
	"deskhand/scenes/agent"
)

const plainHelp = `next                        the next scene
back                        the one before
scene NUMBER                any scene of the running order
again                       the scene that is on, once more
swap POSITION PERFORMER     another performer; "fade 2s" after it moves the levels slowly
undo                        the desk as it was before the last step
keep POSITION               what a hand has moved there, into the performer's file
mute                        all positions muted; "mute now" doesn't wait for what is being done; ends a hold
hold, release               send nothing from now on; send again
ahead                       what the next scene would change
status                      how things stand
done, not done              the answer where something is for a hand
quit                        ends this; the desk stays as it is
"allow DB" after next, back, scene, again, swap and undo lets it get that much louder.
`

// commandWords are the words that a line can begin with.
var commandWords = []string{"next", "back", "scene", "again", "swap", "undo", "keep", "mute", "hold", "release", "ahead", "status", "done", "help", "quit"}

// readCommand reads a line: what is asked of the agent, or the one word of what is not.
func readCommand(line string) (agent.Ask, string, error) {
	words := strings.Fields(line)
	c := commandLine{word: words[0], rest: words[1:]}
	ask, err := c.read()
	if err == nil && len(c.rest) > 0 {
		err = fmt.Errorf("%s: %q is too much", c.word, strings.Join(c.rest, " "))
	}
	return ask, c.word, err
}

// commandLine is a line being read, word by word.
type commandLine struct {
	word string
	rest []string
}

func (c *commandLine) read() (agent.Ask, error) {
	switch c.word {
	case "next":
		rise, err := c.allowed()
		return agent.AskNext{From: agent.WhicheverIsOn, Rise: rise}, err
	case "back":
		rise, err := c.allowed()
		return agent.AskBack{From: agent.WhicheverIsOn, Rise: rise}, err
	case "again":
		rise, err := c.allowed()
		return agent.AskItem{Rise: rise}, err
	case "undo":
		rise, err := c.allowed()
		return agent.AskUndo{Rise: rise}, err
	case "scene":
		return c.scene()
	case "swap":
		return c.swap()
	case "keep":
		position, ok := c.next()
		if !ok {
			return nil, fmt.Errorf("keep: write keep POSITION")
		}
		return agent.AskKeep{Position: position}, nil
	case "mute":
		return agent.AskMute{}, nil
	case "hold", "release", "ahead", "status", "help", "quit":
		return nil, nil
	}
	return nil, fmt.Errorf("%q is no command here%s; help lists them", c.word, source.DidYouMean(c.word, commandWords))
}

func (c *commandLine) next() (string, bool) {
	if len(c.rest) == 0 {
		return "", false
	}
	word := c.rest[0]
	c.rest = c.rest[1:]
	return word, true
}

// after gives the word after another, if the line goes on with that.
func (c *commandLine) after(word string) (string, bool, error) {
	if len(c.rest) == 0 || c.rest[0] != word {
		return "", false, nil
	}
	c.rest = c.rest[1:]
	value, ok := c.next()
	if !ok {
		return "", false, fmt.Errorf("%s: what follows %q?", c.word, word)
	}
	return value, true, nil
}

// allowed reads "allow DB".
func (c *commandLine) allowed() (float64, error) {
	text, given, err := c.after("allow")
	if !given || err != nil {
		return 0, err
	}
	rise, err := strconv.ParseFloat(text, 64)
	if err != nil || !(rise > 0 && rise <= mostRise) {
		return 0, fmt.Errorf("%s: allow %s: write how many dB it may get louder, above 0 and up to %d", c.word, text, mostRise)
	}
	return rise, nil
}

func (c *commandLine) scene() (agent.Ask, error) {
	text, _ := c.next()
	number, err := strconv.Atoi(text)
	if err != nil || number < 1 {
		return nil, fmt.Errorf("scene %s: write the number that it has in the running order, from 1", text)
	}
	rise, err := c.allowed()
	return agent.AskItem{Number: number, Rise: rise}, err
}

func (c *commandLine) swap() (agent.Ask, error) {
	position, _ := c.next()
	performer, ok := c.next()
	if !ok {
		return nil, fmt.Errorf("swap: write swap POSITION PERFORMER")
	}
	ask := agent.AskSwap{Position: position, Performer: performer}
	text, given, err := c.after("fade")
	if err != nil {
		return nil, err
	}
	if given {
		if ask.Fade, err = scenes.ParseFade(text); err != nil {
			return nil, fmt.Errorf("swap: fade %s: %w", text, err)
		}
	}
	ask.Rise, err = c.allowed()
	return ask, err
}
