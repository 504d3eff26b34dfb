package main

import (
	"errors"
	"fmt"
	"net"
	"net/netip"
	"strings"
)

// whoReaches says who can reach an ADDRESS:PORT that this machine listens at, "" for nobody but
// its own programs. An address that can't be read may be anything.
func whoReaches(local string) string {
	host, _, err := net.SplitHostPort(local)
	if err != nil {
		host = local
	}
	ip, err := netip.ParseAddr(host)
	switch {
	case strings.EqualFold(host, "localhost"), err == nil && ip.Unmap().IsLoopback():
		return ""
	case host == "", err == nil && ip.Unmap().IsUnspecified():
		return "whoever is in any network that this machine is in"
	}
	return "whoever is in the network of " + host
}

// warnOfMock says what a mock desk that listens beyond this machine means.
func (a *app) warnOfMock(local string, port int) {
	if who := whoReaches(local); who != "" {
		a.complain(fmt.Errorf("--listen %s: %s can read and move this mock desk; --listen 127.0.0.1:%d keeps it to this machine", local, who, port))
	}
}

// warnOfRemote says what remote control from beyond this machine means: that the book's list is
// of addresses, which anybody in the same network can put on a packet.
func (a *app) warnOfRemote(local string) {
	who := whoReaches(local)
	if local == "" || who == "" {
		return
	}
	a.complain(errors.New("--remote " + local + ": " + who + " can send requests here, and OSC has no password\n" +
		"[remote] from in book.toml keeps other addresses out, but not a sender that puts a listed address on its packets, who can open positions: " +
		"use a network that only your own devices are in, or --remote 127.0.0.1:PORT for programs of this machine"))
}
