package onelog_test

import (
	"context"
	"strings"
	"testing"

	"lull/analyze/onelog"
	"lull/decode/logfile"
	"lull/pkg/source"
)

func TestALogIsReadAndOneWithoutTimesRefused(t *testing.T) {
	d := parseDrive(t, "rpm: 0s=800", "")
	in := source.Input{Path: source.Stdin, Name: "drive.log"}
	for _, test := range []struct{ log, want string }{
		{"(1700000000.000000) can0 100#00\n(1700000000.100000) can0 100#00\n", ""},
		{"can0  100   [1]  00\ncan0  100   [1]  00\n", "drive.log: its lines have no time stamps"},
		{"dear diary\n", "drive.log:1:6: this is not a CAN log"},
	} {
		res, facts, err := onelog.Read(context.Background(), d.m, in, logfile.Options{Stdin: strings.NewReader(test.log)})
		switch {
		case test.want == "" && (err != nil || res.Frames != 2 || facts.Info.Accepted != 2):
			t.Errorf("%q: %v, %+v", test.log, err, facts)
		case test.want != "" && (err == nil || !strings.HasPrefix(err.Error(), test.want)):
			t.Errorf("%q: %v, want %s", test.log, err, test.want)
		}
	}
}
