package words

import (
	"fmt"
	"strings"
	"time"

	"lull/analyze"
	"lull/decode"
	"lull/pkg/bounds"
)

// Headline says what a log is.
func (l *Log) Headline() string {
	res := l.Result
	parts := []string{decode.Counted(res.Frames, "frame", "frames")}
	if len(res.Info.Interfaces) > 0 {
		parts[0] += " on " + Visible(Interfaces(&res.Info))
	}
	if res.HasTime {
		parts = append(parts, Fixed(bounds.Seconds(res.Span), 1)+" s")
		if Dated(res) {
			began := time.Unix(0, res.Start).UTC().Format("2006-01-02 15:04:05")
			if res.Info.Stamps == decode.StampsAbsolute {
				began += " UTC"
			}
			parts = append(parts, "from "+began)
		}
	}
	if n := res.Info.Rejected; n > 0 {
		parts = append(parts, decode.Counted(n, "line rejected", "lines rejected"))
	}
	return Visible(l.Name) + ": " + strings.Join(parts, ", ")
}

// Interfaces names those of a log in the order of their first frames, as they stand
// there: "none", or the first of them where garbage has very many.
func Interfaces(info *decode.Info) string {
	const most = 8
	names, more := info.Interfaces, ""
	switch n := len(names) - most; {
	case len(names) == 0:
		return "none"
	case n > 0:
		names, more = names[:most], fmt.Sprintf(" and %d more", n)
	}
	return strings.Join(names, ", ") + more
}

// Dated reports whether a log says on which day it began. One whose stamps begin in 1970
// does not: its stamps count from its own start, or the clock of who wrote it was never set.
func Dated(r *analyze.Result) bool {
	return r.Dated() && time.Unix(0, r.Start).UTC().Year() > 1970
}

// StartText writes the date of a log's first frame: with Z where the stamps
// count from the epoch, without where they are dates of no known zone; ok is false
// where they carry no date.
func StartText(r *analyze.Result) (text string, ok bool) {
	if !Dated(r) {
		return "", false
	}
	layout := "2006-01-02T15:04:05.000000"
	if r.Info.StampDigits >= 9 {
		layout = "2006-01-02T15:04:05.000000000"
	}
	text = time.Unix(0, r.Start).UTC().Format(layout)
	if r.Info.Stamps == decode.StampsAbsolute {
		text += "Z"
	}
	return text, true
}
