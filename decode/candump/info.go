package candump

import (
	"fmt"
	"slices"

	"lull/decode"
)

// Info returns what was counted so far, with the remarks that follow from it:
// rejected_lines, cut_short, frames_dropped (its Count is the number of frames),
// no_times and stamps_read_as. The caller owns it. Frames that are held back are
// counted when it is clear how they are read, which is before Scan gives the
// first of them. At most 1,024 interfaces are named.
func (r *Reader) Info() decode.Info {
	info := r.info
	info.Stamps = r.settled
	info.Interfaces = slices.Clone(r.info.Interfaces)
	info.Remarks = nil
	add := func(m decode.Remark) { info.Remarks = append(info.Remarks, m) }
	if info.Rejected > 0 {
		add(decode.Remark{
			Code: decode.RemarkRejectedLines, Count: info.Rejected, Line: r.places[0].Line,
			Text: r.rejectedText(), Places: slices.Clone(r.places),
		})
	}
	if r.cutLine > 0 {
		add(decode.Remark{
			Code: decode.RemarkCutShort, Count: 1, Line: r.cutLine,
			Text: "the log ends within its last line; what comes before is read",
		})
	}
	if r.dropLine > 0 {
		add(DroppedRemark(r.dropLine, r.dropped, info.Remarked))
	}
	if r.settled == decode.StampsNone {
		add(decode.Remark{
			Code: decode.RemarkNoTimes, Count: info.Accepted, Line: 1,
			Text: "no line has a time stamp, so nothing can be measured; record with candump -l, or with -t a",
		})
	}
	if text := r.stampsText(); text != "" {
		add(decode.Remark{Code: decode.RemarkStampsReadAs, Count: 1, Line: r.small, Text: text})
	}
	return info
}

// DroppedRemark says that frames were lost while recording: how many, by the log's
// lines that say so, of which line is the first.
func DroppedRemark(line, frames, lines int64) decode.Remark {
	return decode.Remark{
		Code: decode.RemarkFramesDropped, Count: frames, Line: line,
		Text: fmt.Sprintf("%s lost while recording, by the log's own count in %s",
			decode.Counted(frames, "frame was", "frames were"), decode.Counted(lines, "line", "lines")),
	}
}

// rejectedText sums up why lines were rejected, the commonest reason first.
func (r *Reader) rejectedText() string {
	why := decode.ByReason(r.reasons[:], func(i int) string { return reason(i).String() })
	return decode.Counted(r.info.Rejected, "line was", "lines were") + " rejected: " + why
}

// stampsText says how small stamps were read and how to have it otherwise.
func (r *Reader) stampsText() string {
	if r.small == 0 {
		return ""
	}
	meaning := map[decode.Stamps]string{
		decode.StampsAbsolute: "as seconds since 1970",
		decode.StampsZero:     "as zero-based, seconds since the log's own start",
		decode.StampsDelta:    "as delta, seconds since the line before",
	}[r.settled]
	switch {
	case meaning == "":
		return ""
	case r.forced != decode.StampsUnknown:
		return fmt.Sprintf("small time stamps are read %s, as --stamps %s asks", meaning, r.forced)
	case r.settled == decode.StampsDelta:
		return fmt.Sprintf("small time stamps are read %s: of the first %s %s smaller than the one before, more than one in ten; --stamps zero reads them otherwise",
			meaning, decode.Counted(int64(r.kinds[stampSmall]), "stamp", "stamps"), r.fewerText())
	}
	return fmt.Sprintf("small time stamps are read %s: of the first %s %s smaller than the one before, no more than one in ten; --stamps delta reads them otherwise",
		meaning, decode.Counted(int64(r.kinds[stampSmall]), "stamp", "stamps"), r.fewerText())
}

// fewerText returns "3 are", "1 is".
func (r *Reader) fewerText() string {
	if r.fewer == 1 {
		return "1 is"
	}
	return fmt.Sprintf("%d are", r.fewer)
}
