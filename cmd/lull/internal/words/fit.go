package words

import (
	"fmt"
	"strings"

	"lull/analyze"
	"lull/decode"
)

// Fit is how a map fits a log.
type Fit struct {
	Log
	Signals, Seen int             // of the map, and with a value in the log
	Misfits       []analyze.Cause // of signals that do not fit
}

// Usable reports whether the map can be used with the log.
func (f *Fit) Usable() bool { return f.Result.Usable() }

// Verdict says in a sentence whether the map can be used with the log, and why not.
func (f *Fit) Verdict() string {
	reasons := joined(f.Result.Trust.Telling(), "; ", func(d analyze.Doubt) string { return Visible(DoubtText(&d)) })
	text := "The map can be used with this log"
	switch {
	case !f.Usable():
		text = "The map cannot be used with this log: "
	case reasons != "":
		text += "; take care: "
	}
	return text + reasons + "."
}

// Remarks are a line each for how many signals have values, and for each one that does not
// fit and that the verdict does not name already.
func (f *Fit) Remarks() []string {
	list := []string{fmt.Sprintf("%d of %s %s a value in it", f.Seen, decode.Counted(int64(f.Signals), "signal", "signals"), decode.Pick(f.Seen, "has", "have"))}
	verdict := f.Verdict()
	for _, cause := range f.Misfits {
		text := Visible(DoubtText(&analyze.Doubt{Cause: cause}))
		if !strings.Contains(verdict, text) {
			list = append(list, text)
		}
	}
	return list
}
