package serve

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"net/http"
	"net/netip"
	"os"
	"strconv"
	"strings"
)

// peerUser returns the user whose process a request comes from, by the system's table of
// connections (proc(5), /proc/net/tcp), which lists each end of a local connection with its
// user.
func peerUser(r *http.Request) (uid int, known bool) {
	client, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return 0, false
	}
	local, ok := r.Context().Value(http.LocalAddrContextKey).(interface{ AddrPort() netip.AddrPort })
	if !ok {
		return 0, false
	}
	for _, name := range []string{"/proc/net/tcp", "/proc/net/tcp6"} {
		table, err := os.Open(name)
		if err != nil {
			continue
		}
		uid, known = userOf(table, client, local.AddrPort())
		_ = table.Close() // only read
		if known {
			return uid, true
		}
	}
	return 0, false
}

// userOf finds the user of the connection from one address to another.
func userOf(table io.Reader, from, to netip.AddrPort) (uid int, known bool) {
	for lines := bufio.NewScanner(table); lines.Scan(); {
		// Number, own address, the other's, then five columns before the user.
		fields := strings.Fields(lines.Text())
		if len(fields) < 8 || !inTable(fields[1], from) || !inTable(fields[2], to) {
			continue
		}
		uid, err := strconv.Atoi(fields[7])
		return uid, err == nil
	}
	return 0, false
}

// inTable reports whether an entry of the table is the address. Entries are hexadecimal,
// each four bytes of the address in the byte order of the machine, the port as it is read.
// A client may speak IPv4 through a socket of IPv6.
func inTable(text string, a netip.AddrPort) bool {
	words := func(bytes []byte) (text string) {
		for ; len(bytes) > 0; bytes = bytes[4:] {
			text += fmt.Sprintf("%08X", binary.NativeEndian.Uint32(bytes))
		}
		return text
	}
	short, long := a.Addr().Unmap().AsSlice(), a.Addr().As16()
	port := fmt.Sprintf(":%04X", a.Port())
	return text == words(short)+port || text == words(long[:])+port
}
