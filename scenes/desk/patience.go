package desk

import (
	"context"
	"errors"
	"maps"
	"slices"
	"sync"
	"time"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/scenes"
)

// errQuiet ends an asking because the desk has said nothing at all for too long.
var errQuiet = errors.New("nothing was heard any more")

// patience is how long a desk may say nothing at all while it is being asked: longer
// than all tries of one question take. Without it, a desk that dies in the middle of a
// whole reading would be asked each of thousands of questions to the end.
func (d *Desk) patience() time.Duration {
	const longestTry = 400 * time.Millisecond
	return max(3*time.Second, time.Duration(d.profile.Link.Tries)*max(longestTry, d.profile.Link.Wait))
}

// askRounds is how often what stays unanswered is asked from the beginning, while the desk
// answers other questions: on a bad network a whole place takes a hundred of them, and one
// is always unlucky.
const askRounds = 4

// ask asks afresh, until everything is answered or given up, or the desk has been quiet
// for too long. What was not answered is missing; that is no error. It also gives how many
// parameters were asked about.
func (d *Desk) ask(ctx context.Context, parameters []profiles.Parameter, progress Progress) (answers scenes.Values, asked int, err error) {
	answers, asked, quiet, err := d.askRound(ctx, parameters, progress)
	more := answers
	for round := 1; err == nil && !quiet && len(more) > 0 && len(answers) < asked && round < askRounds; round++ {
		rest := slices.DeleteFunc(slices.Clone(parameters), func(q profiles.Parameter) bool { _, answered := answers[q]; return answered })
		more, _, quiet, err = d.askRound(ctx, rest, nil)
		maps.Copy(answers, more)
	}
	return answers, asked, err
}

// askRound asks once, each question as often as the profile says. It also reports whether
// the desk has been quiet for too long.
func (d *Desk) askRound(ctx context.Context, parameters []profiles.Parameter, progress Progress) (answers scenes.Values, asked int, quiet bool, err error) {
	questions := d.profile.AskOrdinals(parameters)
	for _, q := range questions {
		asked += len(q.Keys)
	}
	listening, giveUp := context.WithCancelCause(ctx)
	defer giveUp(nil)
	defer d.watchOver(giveUp)()
	answered, err := d.conversation.AskAfresh(listening, questions, count(progress, len(questions)))
	answers = d.inParameters(answered)
	if err != nil && errors.Is(context.Cause(listening), errQuiet) && ctx.Err() == nil {
		return answers, asked, true, nil
	}
	return answers, asked, false, err
}

// inParameters gives answers about ordinals as such about parameters.
func (d *Desk) inParameters(answers map[profiles.Ordinal]profiles.Value) scenes.Values {
	values := make(scenes.Values, len(answers))
	for o, v := range answers {
		values[d.profile.Parameter(o)] = v
	}
	return values
}

// watchOver gives up when the desk has been quiet for too long from now on. The function
// that it returns ends the watch.
func (d *Desk) watchOver(giveUp func(error)) (end func()) {
	ended := make(chan struct{})
	var watch sync.WaitGroup
	last := time.Now()
	watch.Go(func() {
		for {
			timer := time.NewTimer(time.Until(last.Add(d.patience())))
			select {
			case <-ended:
				timer.Stop()
				return
			case <-timer.C:
			}
			heard := d.opened.Add(time.Duration(d.heard.Load()))
			if !heard.After(last) {
				giveUp(errQuiet)
				return
			}
			last = heard
		}
	})
	return func() {
		close(ended)
		watch.Wait()
	}
}

// listen notes that something was heard, and passes it on.
func (d *Desk) listen(r osc.Report[profiles.Ordinal, profiles.Value]) {
	d.heard.Store(int64(time.Since(d.opened)))
	s := profiles.Setting{Parameter: d.profile.Parameter(r.Key), Value: r.Value}
	d.company.hear(s)
	if g := d.gliding.Load(); g != nil {
		g.hear(s)
	}
	if d.news != nil {
		d.news(s)
	}
}
