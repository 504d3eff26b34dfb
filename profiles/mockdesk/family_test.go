package mockdesk

import "testing"

func TestWhoListensInAllNetworksOfIPv4ListensInNoneOfIPv6(t *testing.T) {
	for at, want := range map[string]string{
		"0.0.0.0:9000": "udp4", "127.0.0.1:0": "udp4", "[::ffff:127.0.0.1]:0": "udp4", "[::]:9000": "udp", "[::1]:0": "udp", ":9000": "udp", "localhost:0": "udp",
	} {
		if got := family("udp", at); got != want {
			t.Errorf("%s: %s, not %s", at, got, want)
		}
	}
}
