package main

import "testing"

func TestWhoCanReachWhatListensIsKnownFromItsAddress(t *testing.T) {
	const all = "whoever is in any network that this machine is in"
	for local, want := range map[string]string{
		"127.0.0.1:9000": "", "127.8.0.1:0": "", "[::1]:9000": "", "localhost:9000": "", "[::ffff:127.0.0.1]:9000": "", "LOCALHOST:1": "",
		":9000": all, "0.0.0.0:9000": all, "[::]:9000": all, "[::ffff:0.0.0.0]:9000": all,
		"192.0.2.7:9000":    "whoever is in the network of 192.0.2.7",
		"[fe80::1%x0]:9000": "whoever is in the network of fe80::1%x0",
		"booth:9000":        "whoever is in the network of booth",
	} {
		if got := whoReaches(local); got != want {
			t.Errorf("%s: %q, not %q", local, got, want)
		}
	}
}
