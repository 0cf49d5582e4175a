package live

import (
	"net"
	"strings"
)

// Network is the kind of a source.
type Network string

const (
	CAN  Network = "can"  // a CAN interface
	Unix Network = "unix" // a stream on a Unix domain socket
	TCP  Network = "tcp"  // a stream on a TCP connection
)

// Address identifies a source: an interface, or a socket on which a log is played.
type Address struct {
	Network Network
	Name    string // interface, path, or host and port
}

func (a Address) String() string {
	if a.Network == CAN {
		return a.Name
	}
	return string(a.Network) + ":" + a.Name
}

// ParseAddress parses an address as users write it: can0, unix:PATH, tcp:HOST:PORT, or
// tcp:PORT, which means the local machine. Its error is an *Error.
func ParseAddress(text string) (Address, error) {
	network, name, found := strings.Cut(text, ":")
	switch {
	case text == "":
		return Address{}, &Error{Source: `""`, Why: "no source given", Hint: "name an interface such as can0, or unix:PATH, or tcp:HOST:PORT", Lasting: true}
	case !found:
		return Address{CAN, text}, nil
	case network == string(Unix) && name != "":
		return Address{Unix, name}, nil
	case network == string(TCP):
		if !strings.Contains(name, ":") {
			name = ":" + name
		}
		host, port, err := net.SplitHostPort(name)
		if err != nil || port == "" {
			break
		}
		if host == "" {
			host = "127.0.0.1"
		}
		return Address{TCP, net.JoinHostPort(host, port)}, nil
	}
	return Address{}, &Error{Source: text, Why: "unknown kind of source", Hint: "name an interface such as can0, or unix:PATH, or tcp:HOST:PORT", Lasting: true}
}
