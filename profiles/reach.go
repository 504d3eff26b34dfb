package profiles

import (
	"fmt"
	"net"
	"strconv"
	"strings"
)

// AddressOf completes HOST or HOST:PORT with the port on which desks of this model
// listen.
func (p *Profile) AddressOf(address string) (string, error) {
	if address == "" {
		return "", fmt.Errorf("the desk's address is missing: write HOST or HOST:PORT")
	}
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		host, port = address, strconv.Itoa(p.Link.Port)
		if inside, ok := strings.CutPrefix(address, "["); ok && strings.HasSuffix(inside, "]") {
			host = strings.TrimSuffix(inside, "]")
		}
	}
	if n, err := strconv.Atoi(port); err != nil || n < 1 || n > 65535 || host == "" || strings.ContainsAny(host, " /[]") {
		return "", fmt.Errorf("desk address %q: write HOST or HOST:PORT, with a port from 1 to 65535", address)
	}
	return net.JoinHostPort(host, port), nil
}
