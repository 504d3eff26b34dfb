package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"deskhand/.ci/benches/measure"
	"deskhand/osc"
	"deskhand/profiles"
	"deskhand/profiles/mockdesk"
)

// stage is a mock desk, and a bare echo of what it would say.
type stage struct {
	programs         string
	profile          *profiles.Profile
	mock             *mockdesk.Desk
	echo             *echo
	host, port       string
	questions, sizes []byte // what liblo's and the bare program read
	values           int    // that a reading has
}

func newStage(programs, name string) (*stage, error) {
	text, err := profiles.Shipped(name)
	if err != nil {
		return nil, err
	}
	p, err := profiles.Load(name+".toml", text)
	if err != nil {
		return nil, err
	}
	mock, err := mockdesk.Start(p, mockdesk.Options{})
	if err != nil {
		return nil, err
	}
	s := &stage{programs: programs, profile: p, mock: mock}
	if s.host, s.port, err = net.SplitHostPort(mock.Addr()); err != nil {
		return nil, errors.Join(err, mock.Close())
	}
	answers, err := s.ask()
	if err == nil {
		s.echo, err = listen(answers)
	}
	if err != nil {
		return nil, errors.Join(err, mock.Close())
	}
	return s, nil
}

func (s *stage) close() {
	_ = s.echo.conn.Close()
	_ = s.mock.Close()
}

func (s *stage) protocol() string {
	if s.profile.Link.Over == profiles.OverUDP {
		return "udp"
	}
	return "tcp"
}

func (s *stage) window() string { return fmt.Sprint(s.profile.Link.Window) }

// ask writes down what a reading asks and gets, and gives the packets of each answer.
func (s *stage) ask() (answers [][][]byte, err error) {
	var questions, sizes bytes.Buffer
	for _, question := range s.profile.Ask(s.profile.Parameters()) {
		s.values += len(question.Keys)
		asking, err := question.Message.Encode()
		if err != nil || len(question.Message.Arguments) > 0 {
			return nil, fmt.Errorf("question %s: this bench asks without arguments (%w)", question.Message, err)
		}
		fmt.Fprint(&questions, question.Message.Address)
		var packets [][]byte
		for _, q := range s.profile.Asked(osc.Heard{Message: question.Message}) {
			answer, err := s.profile.Answer(q, s.mock.Holds)
			if err != nil {
				return nil, err
			}
			packet, err := answer.Encode()
			if err != nil {
				return nil, err
			}
			packets = append(packets, packet)
			fmt.Fprintf(&questions, " %s %d", answer.Address, len(answer.Arguments))
		}
		answers = append(answers, packets)
		fmt.Fprintln(&questions)
		fmt.Fprintln(&sizes, len(asking), len(question.Keys), len(packets))
	}
	s.questions, s.sizes = questions.Bytes(), sizes.Bytes()
	return answers, nil
}

// settings writes down so many settings, for liblo's and the bare program.
func (s *stage) settings(count int) (told, sizes []byte, err error) {
	var settings, lengths bytes.Buffer
	for n := 0; n < count; {
		for _, q := range s.profile.Parameters() {
			control, _ := s.profile.Control(q)
			if control.Reach() != profiles.OverOSC || n == count {
				continue
			}
			tellings, err := s.profile.Tell([]profiles.Setting{{Parameter: q, Value: control.Start}}, nil)
			if err != nil {
				return nil, nil, err
			}
			m := tellings[0].Message
			packet, err := m.Encode()
			if err != nil {
				return nil, nil, err
			}
			tag, ok := map[string]string{"float32": "f", "int32": "i", "string": "s"}[fmt.Sprintf("%T", m.Arguments[0])]
			if !ok || len(m.Arguments) != 1 {
				return nil, nil, fmt.Errorf("%s: this bench sends one float, int or string", m)
			}
			fmt.Fprintln(&settings, m.Address, tag, m.Arguments[0])
			fmt.Fprintln(&lengths, len(packet), 1, 0)
			n++
		}
	}
	return settings.Bytes(), lengths.Bytes(), nil
}

// contender is one of the programs and its figures, one of each a turn.
type contender struct {
	rate []float64 // values a second
	work []float64 // microseconds of processor time a value
	desk []float64 // processors that the desk took meanwhile
}

// run lets a program do its work and notes what it says.
func (s *stage) run(c *contender, input []byte, program string, words ...string) error {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	command := exec.CommandContext(ctx, filepath.Join(s.programs, program), words...)
	command.Stdin = bytes.NewReader(input)
	var said, complaint strings.Builder
	command.Stdout, command.Stderr = &said, &complaint
	worked := measure.Processor()
	if err := command.Run(); err != nil {
		return fmt.Errorf("%s %s: %w: %s", program, strings.Join(words, " "), err, complaint.String())
	}
	var values, seconds, processor float64
	if _, err := fmt.Sscan(said.String(), &values, &seconds, &processor); err != nil {
		return fmt.Errorf("%s said %q: %w", program, said.String(), err)
	}
	c.rate = append(c.rate, values/seconds)
	c.work = append(c.work, processor*1e6/values)
	c.desk = append(c.desk, (measure.Processor()-worked).Seconds()/seconds)
	return nil
}
