package logfile

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lull/decode"
	"lull/pkg/failure"
	"lull/pkg/source"
)

// What people hand over in place of a log is called what it is; what may be a log is not.
func TestAFileThatIsNoLogIsCalledWhatItIs(t *testing.T) {
	for content, want := range map[string]string{
		"\x89PNG\r\n\x1a\n":              "it begins like a PNG picture; lull reads logs of candump",
		"%PDF-1.4\n":                     "it begins like a PDF document; lull reads",
		"log,n,outcome\na,1,restarted\n": "it begins like a table (CSV); lull reads",
		"\uFEFFtime;id;data\n":           "it begins like a table (CSV); lull reads",
		"format: 1\nframes:\n":           "it begins like a signal map; give the log itself, and this file with --map",
		"LOGG\x90\x00\n":                 "it begins like a BLF log; write it out",
		"{\"logs\": []}\n":               "it begins like JSON; lull reads",
		"date Mon Mar 2 09:15:00.000 am 2026\r\nbase hex\n": "it begins like an ASC log; write it out",
		"date of repair: unknown\n":                         "its only line is not a CAN frame; lull reads",
		"dear diary\n":                                      "its only line is not a CAN frame; lull reads",
		"brake lamp\nreplaced\n":                            "none of its 2 lines is a CAN frame; lull reads",
		" can0  1A0   [2]  BC 02\n":                         "",
		"date, a, name\n can0  1A0   [2]  BC 02\n":          "",
		"": "holds no frame",
	} {
		path := filepath.Join(t.TempDir(), "drive.log")
		if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
		facts, err := Read(context.Background(), source.Input{Path: path, Name: "drive.log"}, Options{},
			Visitor{Frame: func(*decode.Frame, Reader) error { return nil }})
		if err == nil {
			err = Unusable("drive.log", &facts.Info)
		}
		var f *failure.Failure
		switch {
		case want == "" && err == nil:
		case want == "" || err == nil || !strings.Contains(err.Error(), want) || !strings.HasPrefix(err.Error(), "drive.log:"):
			t.Errorf("%q: %v, want %q", content, err, want)
		case !errors.As(err, &f) || f.NoLog != (content != ""):
			t.Errorf("%q: no log: %+v", content, f)
		}
	}
}
