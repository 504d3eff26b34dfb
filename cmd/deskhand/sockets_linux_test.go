package main

import (
	"bufio"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// socketsOf lists the sockets of a process that the network can reach, as the system has them:
// "udp 127.0.0.1 -> 127.0.0.1" for one that takes packets from one address and port only,
// "udp 127.0.0.1" for one that takes them from anywhere, "tcp 127.0.0.1 listens".
func socketsOf(t *testing.T, process int) []string {
	t.Helper()
	fds, err := filepath.Glob(fmt.Sprintf("/proc/%d/fd/*", process))
	if err != nil || len(fds) == 0 {
		t.Fatalf("process %d: it has no open files: %v", process, err)
	}
	own := make(map[string]bool)
	for _, fd := range fds {
		to, _ := os.Readlink(fd) // one that has just been closed is none
		if inode, is := strings.CutPrefix(to, "socket:["); is {
			own[strings.TrimSuffix(inode, "]")] = true
		}
	}
	var all []string
	for _, network := range []string{"udp", "udp6", "tcp", "tcp6", "raw", "raw6", "udplite"} {
		table, err := os.ReadFile(fmt.Sprintf("/proc/%d/net/%s", process, network))
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		for _, line := range strings.Split(string(table), "\n")[1:] {
			if f := strings.Fields(line); len(f) > 9 && own[f[9]] {
				all = append(all, saySocket(network, f[1], f[2], f[3]))
			}
		}
	}
	slices.Sort(all)
	return all
}

// saySocket says a line of the system's table. 127.0.0.1 is 0100007F there.
func saySocket(network, local, remote, state string) string {
	const established, listens = "01", "0A"
	host := func(at string) string { return strings.Replace(strings.Split(at, ":")[0], "0100007F", "127.0.0.1", 1) }
	switch state {
	case established:
		return network + " " + host(local) + " -> " + host(remote)
	case listens:
		return network + " " + host(local) + " listens"
	}
	return network + " " + host(local)
}

// watched is a book in a folder, and a command that is looked at while it runs.
type watched struct {
	t   *testing.T
	dir string
}

func newWatched(t *testing.T) *watched {
	w := &watched{t, exampleDir(t)}
	text, err := os.ReadFile(filepath.Join(w.dir, "book.toml"))
	if err == nil {
		err = os.WriteFile(filepath.Join(w.dir, "book.toml"), append(text, "\n[remote]\nfrom = [\"127.0.0.1\"]\n"...), 0o666)
	}
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// start starts a command in the book; it is ended with the test.
func (w *watched) start(out *os.File, words ...string) int {
	w.t.Helper()
	command := exec.Command("deskhand", words...)
	command.Dir, command.Stdout = w.dir, out
	in, err := command.StdinPipe() // which says nothing, and doesn't end
	if err == nil {
		err = command.Start()
	}
	if err != nil {
		w.t.Fatal(err)
	}
	w.t.Cleanup(func() {
		_ = command.Process.Kill()
		in.Close()
		_ = command.Wait()
	})
	return command.Process.Pid
}

func (w *watched) mustHave(process int, want ...string) {
	w.t.Helper()
	if got := socketsOf(w.t, process); !slices.Equal(got, want) {
		w.t.Errorf("it has the sockets %q, not %q", got, want)
	}
}

// A command is looked at once it has asked the desk something, which never answers.
func TestACommandHearsTheDeskAloneUnlessAskedToListen(t *testing.T) {
	t.Parallel()
	const link, heard = "udp 127.0.0.1 -> 127.0.0.1", "udp 127.0.0.1"
	for _, c := range []struct {
		words string
		want  []string
	}{
		{"read", []string{link}},
		{"swap lectern botanist", []string{link}},
		{"send opening", []string{link}},
		{"diff opening desk", []string{link}},
		{"watch", []string{link}},
		{"run winter-talks --plain", []string{link}},
		{"run winter-talks --json", []string{link}},
		{"profile trace --profile quay-24", []string{link}},
		{"profile check quay-24", []string{link}},
		{"watch --remote 127.0.0.1:0", []string{heard, link}},
		{"run winter-talks --plain --remote 127.0.0.1:0", []string{heard, link}},
	} {
		t.Run(c.words, func(t *testing.T) {
			desk, err := net.ListenUDP("udp", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
			if err != nil {
				t.Fatal(err)
			}
			defer desk.Close()
			w := newWatched(t)
			process := w.start(nil, append(strings.Fields(c.words), "--desk", desk.LocalAddr().String())...)
			_ = desk.SetReadDeadline(time.Now().Add(scriptPatience))
			if _, _, err := desk.ReadFrom(make([]byte, 1000)); err != nil {
				t.Fatal("it asks the desk nothing: ", err)
			}
			w.mustHave(process, c.want...)
		})
	}
}

func TestACommandOverTCPListensNowhere(t *testing.T) {
	t.Parallel()
	desk, err := net.ListenTCP("tcp", &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	defer desk.Close()
	w := newWatched(t)
	process := w.start(nil, "profile", "trace", "--profile", "punt-16", "--desk", desk.Addr().String())
	_ = desk.SetDeadline(time.Now().Add(scriptPatience))
	link, err := desk.Accept()
	if err != nil {
		t.Fatal(err)
	}
	defer link.Close()
	if _, err := link.Read(make([]byte, 1000)); err != nil {
		t.Fatal("it asks the desk nothing: ", err)
	}
	w.mustHave(process, "tcp 127.0.0.1 -> 127.0.0.1")
}

func TestAMockDeskListensOnThisMachineAlone(t *testing.T) {
	t.Parallel()
	out, in, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer out.Close()
	w := newWatched(t)
	process := w.start(in, "mock", "--listen", "127.0.0.1:0")
	in.Close()
	if line, err := bufio.NewReader(out).ReadString('\n'); err != nil || !strings.Contains(line, "listens on 127.0.0.1:") {
		t.Fatal(line, err)
	}
	w.mustHave(process, "udp 127.0.0.1")
}

// A command that needs no desk is looked at while it waits for somebody to read what it prints.
func TestACommandThatNeedsNoDeskHasNoSocket(t *testing.T) {
	t.Parallel()
	for _, words := range []string{
		"check", "show opening", "show botanist --position lectern", "show winter-talks", "diff botanist poet", "sheet winter-talks --text", "profile list", "profile check quay-24", "--help",
	} {
		t.Run(words, func(t *testing.T) {
			w := newWatched(t)
			out, full := fullPipe(t)
			defer out.Close()
			process := w.start(full, strings.Fields(words)...)
			full.Close()
			for late := time.Now().Add(scriptPatience); !writes(process); time.Sleep(time.Millisecond) {
				if time.Now().After(late) {
					t.Fatal("it prints nothing")
				}
			}
			w.mustHave(process)
		})
	}
}

// fullPipe gives a pipe that has no room.
func fullPipe(t *testing.T) (out, in *os.File) {
	t.Helper()
	fds := make([]int, 2)
	if err := syscall.Pipe2(fds, syscall.O_CLOEXEC); err != nil {
		t.Fatal(err)
	}
	if err := syscall.SetNonblock(fds[1], true); err != nil {
		t.Fatal(err)
	}
	for err := error(nil); err == nil; {
		_, err = syscall.Write(fds[1], make([]byte, 4096))
	}
	if err := syscall.SetNonblock(fds[1], false); err != nil {
		t.Fatal(err)
	}
	return os.NewFile(uintptr(fds[0]), "out"), os.NewFile(uintptr(fds[1]), "in")
}

// writes reports whether a process waits in a write to its standard output.
func writes(process int) bool {
	tasks, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/syscall", process))
	for _, task := range tasks {
		if text, err := os.ReadFile(task); err == nil && strings.HasPrefix(string(text), fmt.Sprintf("%d 0x1 ", syscall.SYS_WRITE)) {
			return true
		}
	}
	return false
}
