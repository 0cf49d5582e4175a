package capture

import (
	"fmt"
	"slices"

	"lull/decode"
)

// mostNames is how many interfaces are named; garbage may have many more.
const mostNames = 1024

// firstAbsolute is the least time that counts as a date, in nanoseconds: 2001, as
// in text logs, whose dates have ten digits of seconds.
const firstAbsolute = 1_000_000_000_000_000_000

// tally keeps the books of a capture.
type tally struct {
	info    decode.Info
	reasons [reasonCount]int64
	places  []decode.Place
	cut     reason // cutShort, cutByFault, framing, sectionVersion, or accepted
	small   int64  // packet from which on the time has no date
	other   int64  // the first packet of an interface that is no CAN
	dropped map[int]uint64
	lost    uint64 // in sections that are over
	lastBus string
	buses   map[string]struct{}
}

// packet counts a packet, which must then be accepted, rejected or passed over.
func (t *tally) packet() { t.info.Lines++ }

func (t *tally) accept(f *decode.Frame, digits int) {
	if t.info.Accepted == 0 {
		t.info.Stamps = decode.StampsAbsolute
		if f.Time < firstAbsolute {
			t.info.Stamps, t.small = decode.StampsZero, t.info.Lines
		}
	}
	t.info.Accepted++
	switch {
	case f.Flags.Has(decode.Error):
		t.info.ErrorFrames++
	case f.Flags.Has(decode.Remote):
		t.info.RemoteFrames++
	}
	t.info.StampDigits = max(t.info.StampDigits, digits)
	if f.Bus == t.lastBus {
		return
	}
	t.lastBus = f.Bus
	if _, known := t.buses[f.Bus]; !known && len(t.buses) < mostNames {
		if t.buses == nil {
			t.buses = make(map[string]struct{})
		}
		t.buses[f.Bus] = struct{}{}
		t.info.Interfaces = append(t.info.Interfaces, f.Bus)
	}
}

func (t *tally) reject(why reason) {
	t.info.Rejected++
	t.reasons[why]++
	if len(t.places) < decode.MaxPlaces {
		t.places = append(t.places, decode.Place{Line: t.info.Lines, Why: why.String()})
	}
}

// passOver counts a packet of an interface that is no CAN interface.
func (t *tally) passOver() {
	t.info.Remarked++
	if t.other == 0 {
		t.other = t.info.Lines
	}
}

// drops takes note of how many frames an interface lost till now, by the
// recorder's own count.
func (t *tally) drops(iface int, count uint64) {
	if t.dropped == nil {
		t.dropped = make(map[int]uint64)
	}
	t.dropped[iface] = count
}

// endSection settles the drop counts of the section's interfaces.
func (t *tally) endSection() {
	for _, n := range t.dropped {
		t.lost = addUpTo(t.lost, n)
	}
	clear(t.dropped)
}

// addUpTo adds two counts; beyond what an int64 holds there is no more.
func addUpTo(a, b uint64) uint64 { return min(a+min(b, 1<<63-1), 1<<63-1) }

// finish returns the counts with their remarks.
func (t *tally) finish() decode.Info {
	info := t.info
	info.Interfaces = slices.Clone(t.info.Interfaces)
	info.Remarks = nil
	add := func(m decode.Remark) { info.Remarks = append(info.Remarks, m) }
	if info.Rejected > 0 {
		add(decode.Remark{
			Code: decode.RemarkRejectedLines, Count: info.Rejected, Line: t.places[0].Line,
			Text: t.rejectedText(), Places: slices.Clone(t.places),
		})
	}
	if t.cut != accepted {
		text := "the capture ends within its last packet; what comes before is read"
		if t.cut == framing || t.cut == sectionVersion {
			text = fmt.Sprintf("the capture cannot be read on from packet %d; what comes before is read", info.Lines)
		}
		add(decode.Remark{Code: decode.RemarkCutShort, Count: 1, Line: info.Lines, Text: text})
	}
	lost := t.lost
	for _, n := range t.dropped {
		lost = addUpTo(lost, n)
	}
	if lost > 0 {
		add(decode.Remark{
			Code: decode.RemarkFramesDropped, Count: int64(lost),
			Text: decode.Counted(int64(lost), "frame was", "frames were") + " lost while recording, by the capture's own statistics",
		})
	}
	if info.Remarked > 0 {
		add(decode.Remark{
			Code: decode.RemarkOtherPackets, Count: info.Remarked, Line: t.other,
			Text: decode.Counted(info.Remarked, "packet", "packets") + " of interfaces that are no CAN interfaces passed over",
		})
	}
	if t.small > 0 {
		add(decode.Remark{
			Code: decode.RemarkStampsReadAs, Count: 1, Line: t.small,
			Text: "the time stamps begin before the year 2001, so they are read as seconds since the log's own start",
		})
	}
	return info
}

// rejectedText sums up why packets were rejected, the commonest reason first.
func (t *tally) rejectedText() string {
	why := decode.ByReason(t.reasons[:], func(i int) string { return reason(i).String() })
	return decode.Counted(t.info.Rejected, "packet was", "packets were") + " rejected: " + why
}
