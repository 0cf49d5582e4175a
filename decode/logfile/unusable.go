package logfile

import (
	"fmt"
	"path/filepath"
	"strings"

	"lull/decode"
	"lull/pkg/failure"
)

// Unusable says why a log that could be read has nothing to offer: it holds no
// frame at all.
func Unusable(name string, info *decode.Info) error {
	if info.Accepted > 0 {
		return nil
	}
	if info.Rejected == 0 {
		return &failure.Failure{Where: name, What: "holds no frame", Hint: "record it anew, for instance with candump -l"}
	}
	lines := fmt.Sprintf("none of its %d lines is a CAN frame", info.Rejected)
	if info.Rejected == 1 {
		lines = "its only line is no CAN frame"
	}
	f := &failure.Failure{Where: name, What: lines, NoLog: true,
		Hint: "lull reads logs as candump writes them, with -l or on the console"}
	if ending := strings.ToLower(filepath.Ext(name)); ending == ".yaml" || ending == ".yml" {
		f.Hint = "it has the name of a map; give the log, and this with --map"
	}
	for _, r := range info.Remarks {
		if r.Code == decode.RemarkRejectedLines && len(r.Places) > 0 {
			p := r.Places[0]
			f.Where = fmt.Sprintf("%s:%d:%d", name, p.Line, max(p.Column, 1))
			f.What += ": " + p.Why
		}
	}
	return f
}
