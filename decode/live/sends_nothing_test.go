package live

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"slices"
	"strings"
	"testing"
)

// readingCalls are the only system calls that the file with the CAN socket may use. None of
// them can send a frame.
var readingCalls = []string{
	"Socket", "SetsockoptInt", "Bind", "Poll", "PollFd", "Recvmsg", "ParseSocketControlMessage", "Close", "SockaddrCAN",
	"EPERM", "EACCES", "EINTR", "EAGAIN", "ENETDOWN", "ENODEV", "POLLIN", "MSG_DONTWAIT",
}

// No code can send a frame to a CAN interface: only one file can open one, it uses nothing
// but reading calls and gives its descriptor to nobody else, and the CAN library's own ways
// to an interface are used nowhere.
func TestNothingCanSendToAnInterface(t *testing.T) {
	root := os.DirFS("../..")
	opens := 0
	err := fs.WalkDir(root, ".", func(path string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if entry.IsDir() && path != "." && strings.HasPrefix(entry.Name(), ".") {
			return fs.SkipDir
		}
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		text, err := fs.ReadFile(root, path)
		if err != nil {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, text, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			selector, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			of, ok := selector.X.(*ast.Ident)
			if !ok {
				return true
			}
			name := selector.Sel.Name
			isOpener := path == "decode/live/interface_linux.go"
			switch {
			case of.Name == "socketcan" && (strings.HasPrefix(name, "Dial") || name == "NewTransmitter" || name == "NewEmulator"):
				t.Errorf("%s uses %s.%s", path, of.Name, name)
			case strings.HasSuffix(name, "AF_CAN") || name == "SockaddrCAN" || name == "SockaddrCANJ1939":
				if !isOpener {
					t.Errorf("%s opens a CAN interface by %s", path, name)
				}
				opens++
			case isOpener && of.Name == "unix" && !slices.Contains(readingCalls, name) &&
				!strings.HasPrefix(name, "SO") && !strings.HasPrefix(name, "CAN_") && !strings.HasPrefix(name, "SCM_"):
				t.Errorf("%s asks the system for %s, which is not known to only read", path, name)
			case isOpener && (of.Name == "os" || of.Name == "syscall") || isOpener && of.Name == "net" && strings.HasPrefix(name, "File"):
				t.Errorf("%s gives the interface away by %s.%s", path, of.Name, name)
			case name == "fd" && of.Name != "s" && strings.HasPrefix(path, "decode/live/"):
				t.Errorf("%s hands on %s.fd", path, of.Name)
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if opens < 2 {
		t.Errorf("the opener was not found: %d", opens)
	}
}
