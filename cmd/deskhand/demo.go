package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"

	"github.com/spf13/cobra"
)

func (a *app) demoCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "demo",
		Short: "the whole job on the example book and a mock desk",
		Long: `demo does the whole job in a folder of its own, against a mock desk that it starts on
this machine: it checks the example book, shows what differs, puts a performer on,
lets a hand move the desk, keeps that in the performer's file, puts the next one on,
and undoes it. Nothing outside that folder is touched.`,
		Args:              noArguments,
		ValidArgsFunction: cobra.NoFileCompletions,
	}
	c.RunE = func(c *cobra.Command, _ []string) error { return a.demo(c.Context()) }
	return c
}

// demo plays an evening: it runs the real commands, as a person would type them.
func (a *app) demo(ctx context.Context) (err error) {
	dir, err := os.MkdirTemp("", "deskhand-demo-")
	if err != nil {
		return fmt.Errorf("the demo needs a folder for a while: %w", err)
	}
	defer os.RemoveAll(dir)
	if err := writeExample(filepath.Join(dir, "book")); err != nil {
		return err
	}
	text, err := profiles.Shipped("quay-24")
	if err != nil {
		return err
	}
	p, err := profiles.Load("quay-24.toml", text)
	if err != nil {
		return err
	}
	desk, err := mockdesk.Start(p, mockdesk.Options{})
	if err != nil {
		return err
	}
	defer desk.Close()
	show := &demonstration{app: a, ctx: ctx, desk: desk, book: filepath.Join(dir, "book")}
	if err := show.lastWeek(); err != nil {
		return err
	}
	return show.play()
}

// demonstration is a demo in progress.
type demonstration struct {
	app  *app
	ctx  context.Context
	desk *mockdesk.Desk
	book string
}

// lastWeek leaves the desk as the last evening left it: with the pilot at the lectern.
func (d *demonstration) lastWeek() error {
	b, err := scenes.Open(d.book)
	if err != nil {
		return err
	}
	v, err := d.app.openVenue(b, "net-loft")
	if err != nil {
		return err
	}
	cast, err := b.CastFor(v, "lectern", "pilot", nil)
	if err != nil {
		return err
	}
	strip, err := v.Resolve(cast)
	if err != nil {
		return err
	}
	for _, w := range strip.Wanted {
		if _, err := d.desk.Move(w.Parameter, w.Value); err != nil {
			return err
		}
	}
	return nil
}

func (d *demonstration) play() error {
	d.say(`Thursday, the winter talks at the net loft. The botanist opens at the lectern, the
poet follows. What suits their voices, and what the room needs, is in a book of text
files. The desk is a mock quay-24 on this machine, reached over real UDP; it still
holds what the harbour pilot needed last week.`)
	steps := []func() error{
		func() error {
			return d.step("Is the book in order?", exitDone, "check")
		},
		func() error {
			return d.step("The botanist at the lectern: where does each value come from?", exitDone, "show", "botanist", "--position", "lectern")
		},
		func() error {
			return d.step("What would change on the desk? Nothing is sent yet.", exitDone, "swap", "lectern", "botanist", "--dry-run")
		},
		func() error {
			return d.step("Put her on: only what differs is sent, in a safe order, and read back.", exitDone, "swap", "lectern", "botanist")
		},
		func() error {
			return d.hand("She leans back; a hand takes the presence up a little at the desk.", "channel.3.eq.2.gain", -1.5)
		},
		func() error {
			return d.step("That is worth keeping. One line of her file changes:", exitDone, "keep", "lectern")
		},
		func() error {
			return d.step("The poet is next:", exitDone, "swap", "lectern", "poet")
		},
		func() error {
			return d.step("Wrong evening. Back to the botanist:", exitDone, "undo")
		},
		func() error {
			return d.step("Does the desk hold what the book says of her now?", exitDone, "diff", "botanist", "desk", "--position", "lectern")
		},
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return err
		}
	}
	counts := d.desk.Counts()
	d.say(fmt.Sprintf(`
That was the job. The mock desk took %d settings and answered %d questions; every value
above was confirmed by the desk itself. Now make a book of your own:

  deskhand new talks      the example, to change into yours
  deskhand mock           a desk to rehearse on
  deskhand --help         everything else

On a real desk, keep the amplifiers down when you try a profile for the first time.`, counts.Settings, counts.Questions))
	return nil
}

func (d *demonstration) say(text string) {
	if !d.app.json {
		fmt.Fprintf(d.app.out, "%s\n", text)
	}
}

// step runs a command of the program and shows the line that a person would type.
func (d *demonstration) step(why string, want int, words ...string) error {
	d.say("\n" + d.app.paint.head(why) + "\n" + d.app.paint.dim("$ deskhand "+strings.Join(words, " ")))
	line := append(words, "--book", d.book, "--desk", d.desk.Addr())
	if d.app.json {
		line = append(line, "--json")
	}
	if code := run(d.ctx, line, d.app.given); code != want {
		return fmt.Errorf("the demo ended early: deskhand %s gave exit %d", strings.Join(words, " "), code)
	}
	return nil
}

// hand moves a control of the mock desk.
func (d *demonstration) hand(why, parameter string, to float64) error {
	q, err := profiles.ParseParameter(parameter)
	if err != nil {
		return err
	}
	held, err := d.desk.Move(q, profiles.Number(to))
	if err != nil {
		return err
	}
	d.say(fmt.Sprintf("\n%s\n(%s is now %s dB)", d.app.paint.head(why), q, held))
	return nil
}
