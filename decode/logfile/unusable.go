package logfile

import (
	"cmp"
	"fmt"
	"path/filepath"
	"strings"

	"lull/decode"
	"lull/decode/candump"
	"lull/pkg/failure"
)

// readable says which logs can be read.
const readable = "lull reads logs of candump, made with -l or from its console output, and pcap and pcapng captures, plain or packed"

// strange returns a *failure.Failure if a file that was read contains no frames and its
// first bytes tell what it is instead, or nil.
func strange(name string, head []byte, info *decode.Info) error {
	if info.Accepted > 0 || info.Rejected == 0 {
		return nil
	}
	what, hint := kindOf(head)
	if what == "" {
		return nil // Unusable says how it looks
	}
	return &failure.Failure{Where: name, What: "this is not a CAN log that lull can read: it begins like " + what, NoLog: true, Hint: cmp.Or(hint, readable)}
}

// Unusable returns a *failure.Failure if a log that was read contains no frames, or nil.
func Unusable(name string, info *decode.Info) error {
	if info.Accepted > 0 {
		return nil
	}
	if info.Rejected == 0 {
		return &failure.Failure{Where: name, What: "holds no frame", Hint: "record it again, for instance with candump -l"}
	}
	lines := fmt.Sprintf("none of its %d lines is a CAN frame", info.Rejected)
	if info.Rejected == 1 {
		lines = "its only line is not a CAN frame"
	}
	f := &failure.Failure{Where: name, What: "this is not a CAN log that lull can read: " + lines, NoLog: true,
		Hint: readable}
	if ending := strings.ToLower(filepath.Ext(name)); ending == ".yaml" || ending == ".yml" {
		f.Hint = "its name is that of a map; give the log itself, and this file with --map"
	}
	for _, r := range info.Remarks {
		if r.Code == decode.RemarkRejectedLines && len(r.Places) > 0 {
			p := r.Places[0]
			f.Where = fmt.Sprintf("%s:%d:%d", name, p.Line, max(p.Column, 1))
			if p.Why != candump.NotALine {
				f.What += " (" + p.Why + ")"
			}
		}
	}
	return f
}
