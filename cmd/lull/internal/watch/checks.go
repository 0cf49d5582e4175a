package watch

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"lull/decode"
	"lull/decode/buserror"
)

const (
	// nothingAfter is when to report a source that gives nothing, or nothing but errors.
	nothingAfter = 5 * time.Second
	// missingAfter is when to report mapped frames that have not come.
	missingAfter = 8 * time.Second
	// clockStep is how far, in ns, time must run back to be a step of the clock: interfaces
	// read in turn run back by less.
	clockStep = int64(100e6)
	// mostSteps is how often such a step is reported.
	mostSteps = 10
)

// checks are the things that can be wrong with a recording, each reported once.
type checks struct {
	ready                  []string // to be said
	nothing, only, missing bool     // was reported, or no longer can be
	steps                  int
	failure                buserror.Kind // of the first error frame
	shortSaid              map[int]bool
}

func (c *checks) say(format string, args ...any) {
	c.ready = append(c.ready, fmt.Sprintf(format, args...))
}

func (w *Watch) ranBack(by int64) {
	if by <= clockStep || w.steps == mostSteps {
		return
	}
	w.steps++
	w.say("the time ran back by %.1f s, so nothing across this moment can be measured; leave the computer's clock alone while recording", float64(by)/1e9)
}

func (w *Watch) failed(f *decode.Frame) {
	if w.failure == (buserror.Kind{}) {
		w.failure = buserror.Of(f)
	}
}

func (w *Watch) short(e int, f *decode.Frame) {
	if w.shortSaid[e] {
		return
	}
	if w.shortSaid == nil {
		w.shortSaid = make(map[int]bool)
	}
	w.shortSaid[e] = true
	w.say("%s on %s comes with %s, but the map reads up to byte %d of it (from 0); check the map against this car",
		w.m.Entries[e].Label(), f.Bus, decode.Counted(int64(f.Len), "byte", "bytes"), w.entries[e].need-1)
}

// Lack says, for as long as it is true, that nothing measurable has come, and what to do;
// it returns "" otherwise, and during the first seconds. ended is as for Check.
func (w *Watch) Lack(now time.Time, ended bool) string {
	switch {
	case w.data || now.Sub(w.began) < nothingAfter && !ended:
		return ""
	case !w.any && w.Played:
		return "no frame has come; play a log there with lull replay"
	case !w.any:
		return "no frame has come; switch the ignition on, check plug and wires, and check that the interface is up with the bus's bit rate"
	}
	return fmt.Sprintf("only error frames come (%s); the bit rate is probably not the bus's, or CAN high and low are exchanged", w.failure)
}

// Check returns what there is to report at now. ended says that no frame can come any more,
// so that what is missing is missing however short the recording was.
func (w *Watch) Check(now time.Time, ended bool) []string {
	switch lack := w.Lack(now, ended); {
	case lack == "":
	case !w.any && !w.nothing:
		w.nothing = true
		w.say("%s", lack)
	case w.any && !w.only:
		w.only = true
		w.say("%s", lack)
	}
	if w.m != nil && w.data && !w.missing && (ended || w.clock(now)-w.first >= int64(missingAfter)) {
		w.missing = true
		w.checkMap()
	}
	said := w.ready
	w.ready = nil
	return said
}

// checkMap reports what the map names and did not come.
func (w *Watch) checkMap() {
	var names, buses, absent, unasked []string
	for _, b := range w.buses {
		names = append(names, b.Name)
	}
	for i := range w.m.Entries {
		e := &w.m.Entries[i]
		switch {
		case w.entries[i].seen, e.OnChange && e.Period == 0, 3*e.Period > missingAfter:
		case e.Bus != "" && !slices.Contains(names, e.Bus):
			if !slices.Contains(buses, e.Bus) {
				buses = append(buses, e.Bus)
			}
		case e.Polled():
			unasked = append(unasked, e.Label())
		default:
			name := e.Label()
			if e.Module != "" {
				name += " (" + e.Module + ")"
			}
			absent = append(absent, name)
		}
	}
	if len(buses) > 0 {
		w.say("no frame of the interface %s, which the map names; recorded is %s", strings.Join(buses, ", "), strings.Join(names, ", "))
	}
	if len(absent) > 0 {
		w.say("mapped but not seen yet: %s; check the map, the ignition, and that this is the right bus", strings.Join(absent, ", "))
	}
	if len(unasked) > 0 {
		w.say("no answer seen yet to %s; recording asks nothing, so a scan tool must", strings.Join(unasked, ", "))
	}
	for i := range w.signals {
		if s := &w.m.Signals[i]; s.Role != decode.NoRole && w.signals[i].Seen && !w.signals[i].Valid {
			w.say("%s comes, but has had no valid value yet", s.Name)
		}
	}
}
