package recall_test

import (
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"

	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
	"deskhand/scenes"
	"deskhand/scenes/desk"
	"deskhand/scenes/recall"

	"github.com/google/go-cmp/cmp"
)

// A barge-48 takes what belongs together in one message: the head of a channel is gain,
// pad, phantom power and polarity. The founder's strip sets the gain, the microphone the
// phantom power, and nobody the polarity, which has to go along.

// moment is when a hand moves something: as the n-th message of a group passes.
type moment struct {
	name string
	// question says that the packet that counts asks, after as many settings of the
	// group as nth says; else it is the nth that sets. arrives says that it is the answer
	// to the nth question, on its way to us.
	question, arrives bool
	// after is how many settings the desk takes first.
	after int
	nth   int
}

const headMembers = 4

var moments = []moment{
	{name: "before our reading", question: true, nth: 0},
	{name: "between our reading and our message, told before it is due", arrives: true, nth: 1},
	{name: "between our reading and our message, too late to know", nth: 1},
	{name: "just after our message", nth: 1, after: headMembers},
	{name: "before the next reading", question: true, nth: 1},
	{name: "too late to know of in the next message", nth: 2},
	{name: "just after the next message", nth: 2, after: headMembers},
	{name: "during the read back", question: true, nth: 2},
}

// meddler is a link beside which a hand stands.
type meddler struct {
	osc.Link
	hears string // the address that counts
	do    moment
	move  func(after int)

	mu              sync.Mutex
	set, answered   int
	done, listening bool
	opened          bool // a message of ours has opened the position
}

func (m *meddler) Send(packet []byte) error {
	m.pass(packet)
	return m.Link.Send(packet)
}

func (m *meddler) pass(packet []byte) {
	m.mu.Lock()
	defer m.mu.Unlock()
	heard, err := osc.Decode(packet)
	if !m.listening || err != nil || len(heard) != 1 || heard[0].Address != m.hears && !strings.HasSuffix(heard[0].Address, "/all") {
		return
	}
	question := len(heard[0].Arguments) == 0
	if !question {
		m.set++
	}
	if !m.do.arrives && question == m.do.question && m.set == m.do.nth {
		m.once()
	}
}

func (m *meddler) once() {
	if !m.done {
		m.done = true
		m.move(m.do.after)
	}
}

func (m *meddler) Receive(buffer []byte) (int, error) {
	n, err := m.Link.Receive(buffer)
	m.mu.Lock()
	defer m.mu.Unlock()
	if heard, bad := osc.Decode(buffer[:n]); m.listening && err == nil && bad == nil && heard[0].Address == m.hears+"/is" {
		if m.answered++; m.do.arrives && m.answered == m.do.nth {
			m.once()
		}
	}
	return n, err
}

// watch notes an opening that changed something and was ours.
func (m *meddler) watch(e mockdesk.Event) {
	if e.What == mockdesk.Set && e.Changed && e.Setting.Parameter.Name == "mute" && e.Setting.Value == profiles.Switch(false) {
		m.opened = true // read once the desk is off
	}
}

// listen begins to count.
func (m *meddler) listen() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.listening = true
}

// slow lets each message wait for its turn, so that news overtakes it.
var slow = []string{"pace = 1500\nburst = 64", "pace = 100\nburst = 1"}

// unfollowed is a desk that tells nobody of its changes.
var unfollowed = append([]string{"[follow]\nask = \"/barge/watch\"\nlapses = \"15s\"\n", ""}, slow...)

// groupStage is the venue of anyStage on a barge-48 over a cable, with a hand beside it.
// It belongs into a bubble of synctest.
func groupStage(t *testing.T, edits []string, venueText string, hand profiles.Setting, do moment) (*recall.Recaller, *mockdesk.Desk, *meddler) {
	t.Helper()
	r := recallerOn(t, "barge-48", edits, venueText)
	link, socket := mockdesk.Cable()
	m := &meddler{Link: link, hears: r.Venue.Desk.Profile.Address(hand.Parameter), do: do}
	mock, err := mockdesk.Start(r.Venue.Desk.Profile, mockdesk.Options{Socket: socket, Watch: m.watch})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { mock.Close() })
	m.move = func(after int) {
		if after > 0 {
			err = mock.MoveAfter(after, hand)
		} else {
			_, err = mock.Move(hand.Parameter, hand.Value)
		}
		if err != nil {
			t.Error(err)
		}
	}
	r.Desk = desk.Over(m, r.Venue.Desk.Profile, "barge", desk.Options{})
	t.Cleanup(func() { r.Desk.Close() })
	return r, mock, m
}

// recallerOn is a recaller without a desk at the venue of anyStage, on a shipped desk with
// some text of its profile replaced, and more text before the venue's.
func recallerOn(t *testing.T, profile string, edits []string, venueText string) *recall.Recaller {
	t.Helper()
	dir := t.TempDir()
	shipped, err := profiles.Shipped(profile)
	if err != nil {
		t.Fatal(err)
	}
	for file, text := range map[string]string{
		"book.toml": `venue = "room"`, "profiles/" + profile + ".toml": edit(t, string(shipped), edits),
		"venues/room.toml": venueText + strings.Replace(anyVenue, "PROFILE", profile, 1), "performers/founder.toml": anyPerformer,
	} {
		write(t, filepath.Join(dir, file), text)
	}
	r := &recall.Recaller{}
	if r.Book, err = scenes.Open(dir); err != nil {
		t.Fatal(err)
	}
	if r.Venue, err = r.Book.Venue("room"); err != nil {
		t.Fatal(err)
	}
	if r.Memory, err = r.Book.Memory(r.Venue); err != nil {
		t.Fatal(err)
	}
	return r
}

func parameterAt(t *testing.T, path string) profiles.Parameter {
	t.Helper()
	q, err := profiles.ParseParameter(path)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

// state is everything that a mock desk holds.
func state(p *profiles.Profile, mock *mockdesk.Desk) scenes.Values {
	all := make(scenes.Values)
	for _, q := range p.Parameters() {
		all[q], _ = mock.Holds(q)
	}
	return all
}

func differing(before, after scenes.Values) []string {
	var paths []string
	for q, v := range after {
		if before[q] != v {
			paths = append(paths, q.String())
		}
	}
	slices.Sort(paths)
	return paths
}

func TestOneValueOfAGroupLeavesTheOthersAsTheyAre(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		invert := parameterAt(t, "channel.2.input.invert")
		r, mock, _ := groupStage(t, nil, "", profiles.Setting{Parameter: invert}, moment{nth: -1})
		swapOn(t, r)
		for _, s := range []profiles.Setting{ // as no other desk has them
			{Parameter: invert, Value: profiles.Switch(true)},
			{Parameter: parameterAt(t, "channel.2.input.pad"), Value: profiles.Switch(true)},
			{Parameter: parameterAt(t, "channel.2.lowcut.slope"), Value: profiles.Number(18)},
			{Parameter: parameterAt(t, "channel.2.send.1.tap"), Value: profiles.Word("post")},
			{Parameter: parameterAt(t, "channel.2.send.1.pan"), Value: profiles.Number(-30)},
		} {
			if _, err := mock.Move(s.Parameter, s.Value); err != nil {
				t.Fatal(err)
			}
		}
		write(t, r.Book.Path("performers/founder.toml"), strings.NewReplacer("gain = 18.0", "gain = 21.0", "lowcut.on = true", "lowcut.on = false", "level = -12.0", "level = -20.0").Replace(anyPerformer))
		before := state(r.Venue.Desk.Profile, mock)
		result := swapOn(t, r)
		want := []string{"channel.2.input.gain", "channel.2.lowcut.on", "channel.2.send.1.level"}
		if diff := cmp.Diff(want, differing(before, state(r.Venue.Desk.Profile, mock))); diff != "" || !result.Complete() {
			t.Error(result.Unproved, diff)
		}
	})
}

func TestAHandOnAnotherMemberOfAGroupKeepsItsValueAtWhateverMoment(t *testing.T) {
	for _, path := range []string{"channel.2.input.invert", "channel.2.input.pad"} {
		for _, do := range moments {
			for _, venue := range []string{"", "safes = [\"" + strings.Replace(path, "channel.2", "lectern", 1) + "\"]\n"} {
				t.Run(path+" "+do.name+" "+venue, func(t *testing.T) {
					synctest.Test(t, func(t *testing.T) {
						hand := profiles.Setting{Parameter: parameterAt(t, path), Value: profiles.Switch(true)}
						r, mock, m := groupStage(t, slow, venue, hand, do)
						plan := planOn(t, r)
						before := state(r.Venue.Desk.Profile, mock)
						m.listen()
						result, err := r.CarryOut(t.Context(), plan)
						if err != nil || !result.Complete() {
							t.Fatal(result, err)
						}
						if !m.done {
							t.Fatal("the hand's moment never came")
						}
						if held, _ := mock.Holds(hand.Parameter); held != hand.Value {
							t.Errorf("the hand's %v is lost: %v; overruled: %v", hand.Value, held, result.Overruled)
						}
						wantOnly(t, r, mock, before, result, hand.Parameter)
						again := planOn(t, r)
						if len(again.Moves) != 1 || again.Moves[0].Parameter != hand.Parameter || !again.Nothing() {
							t.Errorf("the next recall tells %v", again.Moves)
						}
					})
				})
			}
		}
	}
}

// wantOnly checks that the desk holds what was wanted and is as it was otherwise, but for
// what a hand moved.
func wantOnly(t *testing.T, r *recall.Recaller, mock *mockdesk.Desk, before scenes.Values, result *recall.Result, moved profiles.Parameter) {
	t.Helper()
	for _, c := range result.Plan.Changes() {
		before[c.Parameter] = c.To
	}
	after := state(r.Venue.Desk.Profile, mock)
	before[moved] = after[moved]
	if paths := differing(before, after); len(paths) > 0 {
		t.Errorf("the desk holds otherwise: %v", paths)
	}
}

func TestWhatAMessageSetsBackIsTold(t *testing.T) {
	late := moments[5]
	synctest.Test(t, func(t *testing.T) {
		hand := profiles.Setting{Parameter: parameterAt(t, "channel.2.input.invert"), Value: profiles.Switch(true)}
		r, _, m := groupStage(t, slow, "", hand, late)
		plan := planOn(t, r)
		m.listen()
		result, err := r.CarryOut(t.Context(), plan)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff([]profiles.Setting{hand}, result.PutBack, cmp.AllowUnexported(profiles.Value{})); diff != "" {
			t.Error(diff)
		}
	})
}

// Here the polarity is wanted, and right already: the recall wins, and tells.
func TestAHandOnAMemberThatIsWantedIsOverruledAndToldAtWhateverMoment(t *testing.T) {
	for _, do := range moments {
		t.Run(do.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				hand := profiles.Setting{Parameter: parameterAt(t, "channel.2.input.invert"), Value: profiles.Switch(true)}
				r, mock, m := groupStage(t, slow, "", hand, do)
				write(t, r.Book.Path("performers/founder.toml"), anyPerformer+"input.invert = false\n")
				plan := planOn(t, r)
				m.listen()
				result, err := r.CarryOut(t.Context(), plan)
				if err != nil || !result.Complete() {
					t.Fatal(result, err)
				}
				if held, _ := mock.Holds(hand.Parameter); held != profiles.Switch(false) {
					t.Errorf("it is %v", held)
				}
				want := []recall.Unproved{{Parameter: hand.Parameter, Wanted: profiles.Switch(false), Found: hand.Value}}
				if !slices.Equal(result.Overruled, want) || len(result.PutBack) > 0 {
					t.Errorf("told: %v, put back: %v", result.Overruled, result.PutBack)
				}
			})
		})
	}
}

// A desk that tells nobody of its changes: the time between its answer and the arrival
// of our message is left, and only that.
func TestWithoutNewsOnlyTheMomentBetweenReadingAndMessageIsLeft(t *testing.T) {
	for _, do := range moments {
		t.Run(do.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				hand := profiles.Setting{Parameter: parameterAt(t, "channel.2.input.invert"), Value: profiles.Switch(true)}
				r, mock, m := groupStage(t, unfollowed, "", hand, do)
				plan := planOn(t, r)
				m.listen()
				result, err := r.CarryOut(t.Context(), plan)
				if err != nil || !result.Complete() {
					t.Fatal(result, err)
				}
				between := !do.question && do.after == 0
				if held, _ := mock.Holds(hand.Parameter); (held == hand.Value) == between {
					t.Errorf("it is %v", held)
				}
			})
		})
	}
}

// muteWithFader has a channel's mute and fader in one message.
var muteWithFader = append([]string{
	`mute = { at = "/barge/{channel}/open", wire`, `mute = { at = "/barge/{channel}/door", slot = 1, wire`,
	`fader = { at = "/barge/{channel}/level", curve`, `fader = { at = "/barge/{channel}/door", slot = 2, curve`,
}, slow...)

// A hand that opens the position just as the mute goes along with the fader does not have
// it opened by us again, and is told.
func TestAMuteThatWentAlongIsNotGivenBack(t *testing.T) {
	for _, nth := range []int{1, 2} { // the mute's own message, and the fader's
		synctest.Test(t, func(t *testing.T) {
			hand := profiles.Setting{Parameter: parameterAt(t, "channel.2.mute"), Value: profiles.Switch(false)}
			r, mock, m := groupStage(t, muteWithFader, "", hand, moment{nth: nth})
			cast, err := r.Book.CastFor(r.Venue, "lectern", "founder", nil)
			if err != nil {
				t.Fatal(err)
			}
			resolved, err := r.Venue.Resolve(cast)
			if err != nil {
				t.Fatal(err)
			}
			plan, err := r.Prepare(t.Context(), []recall.Target{opened(recall.ForPosition(resolved), false)})
			if err != nil {
				t.Fatal(err)
			}
			m.listen()
			result, err := r.CarryOut(t.Context(), plan)
			if err != nil || !result.Complete() || !m.done {
				t.Fatal(result, err)
			}
			if muted, _ := mock.Holds(hand.Parameter); muted != profiles.Switch(true) {
				t.Errorf("message %d: it is open", nth)
			}
			want := recall.Unproved{Parameter: hand.Parameter, Wanted: profiles.Switch(true), Found: hand.Value}
			if told := slices.Contains(result.Overruled, want); told != (nth == 2) {
				t.Errorf("message %d: told %v", nth, result.Overruled)
			}
			mock.Close()
			if m.opened {
				t.Errorf("message %d: it was opened by us", nth)
			}
		})
	}
}
