package live

import (
	"context"
	"errors"
	"io/fs"
	"net"
	"os"
	"syscall"
)

func dialOf(a Address) dial {
	if a.Network == CAN {
		return func(context.Context) (conn, error) { return openInterface(a.Name) }
	}
	return func(ctx context.Context) (conn, error) { return openStream(ctx, a) }
}

// openStream connects to the stream of a played log.
func openStream(ctx context.Context, a Address) (conn, error) {
	var d net.Dialer
	c, err := d.DialContext(ctx, string(a.Network), a.Name)
	if err == nil {
		return newStream(c), nil
	}
	e := &Error{Source: a.String(), Why: "cannot be reached", Hint: "waiting for it; to serve it, in another window: lull replay LOG --to " + a.String(), Err: err}
	var unknown *net.DNSError
	switch {
	case errors.As(err, &unknown):
		e.Why, e.Hint, e.Lasting = "no such host", "check the name", true
	case errors.Is(err, fs.ErrPermission):
		e.Why, e.Hint, e.Lasting = "permission denied", "change the permissions of the socket", true
	case errors.Is(err, syscall.ECONNREFUSED) && a.Network == Unix && !isSocket(a.Name):
		e.Why, e.Hint, e.Lasting = "a file, not a socket", "to measure an existing log: lull episodes "+a.Name, true
	case errors.Is(err, fs.ErrNotExist):
		e.Why = "no such socket, so nobody serves it yet"
	case errors.Is(err, syscall.ECONNREFUSED) && a.Network == Unix:
		e.Why = "a socket that nobody serves any more"
	case errors.Is(err, syscall.ECONNREFUSED):
		e.Why = "nobody serves this port"
	case errors.Is(err, syscall.EINVAL) && a.Network == Unix:
		e.Why, e.Hint, e.Lasting = "a path too long for a socket", "choose one of at most 100 bytes", true
	}
	return nil, e
}

func isSocket(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Mode()&fs.ModeSocket != 0
}
