//go:build ignore

// Record runs commands that send OSC to a loopback port, and writes what came into one file each. record.sh starts it.
package main

import (
	"errors"
	"fmt"
	"log"
	"net"
	"os"
	"os/exec"
	"strings"
	"time"
)

const port = "17001"

// commands by the name of the file that they fill. PORT stands for the port.
var commands = map[string][]string{
	"int":           {"oscsend", "127.0.0.1", port, "/in/3/source", "i", "-34"},
	"int64":         {"oscsend", "127.0.0.1", port, "/clock/frames", "h", "1099511627777"},
	"float":         {"oscsend", "127.0.0.1", port, "/in/3/fader", "f", "0.75"},
	"double":        {"oscsend", "127.0.0.1", port, "/in/3/fader", "d", "0.1"},
	"string":        {"oscsend", "127.0.0.1", port, "/in/3/label", "s", "bell founder"},
	"symbol":        {"oscsend", "127.0.0.1", port, "/in/3/label", "S", "poet"},
	"char":          {"oscsend", "127.0.0.1", port, "/page", "c", "B"},
	"midi":          {"oscsend", "127.0.0.1", port, "/midi", "m", "00903c7f"},
	"true":          {"oscsend", "127.0.0.1", port, "/in/3/mute", "T"},
	"false":         {"oscsend", "127.0.0.1", port, "/in/3/mute", "F"},
	"nil":           {"oscsend", "127.0.0.1", port, "/in/3/group", "N"},
	"impulse":       {"oscsend", "127.0.0.1", port, "/talkback", "I"},
	"no-arguments":  {"oscsend", "127.0.0.1", port, "/in/3/fader"},
	"mixed":         {"oscsend", "127.0.0.1", port, "/in/3/all", "ifsTFNIhdcSm", "3", "-6.5", "pilot", "-2", "2.5", "x", "dry", "01b0077f"},
	"utf8":          {"oscsend", "127.0.0.1", port, "/in/3/label", "s", "Käte’s bells"},
	"padding-0":     {"oscsend", "127.0.0.1", port, "/in", "ss", "abc", "a string of twenty-seven by"},
	"padding-1":     {"oscsend", "127.0.0.1", port, "/i1", "ss", "ab", "a string of twenty-six byte"},
	"padding-2":     {"oscsend", "127.0.0.1", port, "/i", "ss", "a", "a string of twenty-five b"},
	"padding-3":     {"oscsend", "127.0.0.1", port, "/", "ss", "", "a string of twenty-four."},
	"file":          {"oscsendfile", "127.0.0.1", port, "faders.txt"},
	"blobs":         {"bundles", port, "blobs"},
	"long-blob":     {"bundles", port, "long-blob"},
	"timetags":      {"bundles", port, "timetags"},
	"bundle":        {"bundles", port, "at-once"},
	"bundle-nested": {"bundles", port, "nested"},
	"bundle-empty":  {"bundles", port, "empty"},
}

func main() {
	log.SetFlags(0)
	listener, err := net.ListenPacket("udp", "127.0.0.1:"+port)
	if err != nil {
		log.Fatal(err)
	}
	for name, command := range commands {
		if err := record(listener, name, command); err != nil {
			log.Fatalf("%s: %v", name, err)
		}
	}
}

func record(listener net.PacketConn, name string, command []string) error {
	if output, err := exec.Command(command[0], command[1:]...).CombinedOutput(); err != nil {
		return fmt.Errorf("%w: %s", err, output)
	}
	var text strings.Builder
	fmt.Fprintf(&text, "# %s\n", shell(command))
	buffer := make([]byte, 65535)
	for count := 0; ; count++ {
		// The command has ended, so whatever it sent over loopback is here.
		if err := listener.SetReadDeadline(time.Now().Add(200 * time.Millisecond)); err != nil {
			return err
		}
		n, _, err := listener.ReadFrom(buffer)
		if errors.Is(err, os.ErrDeadlineExceeded) && count > 0 {
			return os.WriteFile(name+".hex", []byte(text.String()), 0o644)
		}
		if err != nil {
			return err
		}
		if count > 0 {
			text.WriteByte('\n')
		}
		writeHex(&text, buffer[:n])
	}
}

func writeHex(text *strings.Builder, packet []byte) {
	for i, b := range packet {
		switch {
		case i == 0:
		case i%32 == 0:
			text.WriteByte('\n')
		case i%4 == 0:
			text.WriteByte(' ')
		}
		fmt.Fprintf(text, "%02x", b)
	}
	text.WriteByte('\n')
}

func shell(command []string) string {
	quoted := make([]string, len(command))
	for i, word := range command {
		quoted[i] = word
		if word == "" || strings.ContainsAny(word, " '’") {
			quoted[i] = `"` + word + `"`
		}
	}
	return strings.Join(quoted, " ")
}
