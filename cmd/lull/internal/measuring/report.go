package measuring

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"lull/analyze"
	"lull/analyze/onelog"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/logfile"
	"lull/pkg/source"
)

// errBlind says that no log ever shows the engine speed, for which the map may be to blame.
// It has been told.
var errBlind = fmt.Errorf("no engine speed: %w", words.ErrTold)

// Report measures every log that can be read, and reports the others; failed reports
// whether there were any. sha256 asks for the logs' hashes. It is an error if no log is
// left or none ever shows the engine speed.
func (l *Logs) Report(ctx context.Context, sha256 bool) (r *words.Report, failed bool, err error) {
	defer l.tellHeld()
	r, failed = &words.Report{Version: l.Version, Map: l.Map}, l.Failed
	var blind []held // notes on logs that never show the engine speed
	for _, in := range l.Inputs {
		log, err := l.Log(ctx, in, sha256)
		if ctx.Err() != nil {
			return nil, true, ctx.Err()
		}
		if err != nil {
			failed = l.leftOut(in, err) || failed
			continue
		}
		if !log.Result.EngineSpeedSeen {
			blind = append(blind, held{log: log.Name, Note: Note{Err: l.blindness(log)}})
		}
		r.Logs = append(r.Logs, *log)
	}
	if len(r.Logs) == 0 {
		return nil, true, l.nothing()
	}
	for i := range r.Logs {
		if r.Logs[i].Result.EngineSpeedSeen {
			l.Remarks(r.Logs[i].Name, &r.Logs[i].Result.Info)
		}
	}
	for _, b := range blind {
		if len(blind) == len(r.Logs) || !l.Terse {
			l.held = append(l.held, b)
		}
	}
	if len(blind) == len(r.Logs) {
		if slices.ContainsFunc(r.Logs, func(l words.Log) bool { return l.Result.Info.Accepted > 0 }) {
			return nil, true, errBlind
		}
		return nil, true, words.ErrTold
	}
	l.tellTwice(words.SideOf(r).Logs)
	return r, failed, nil
}

// tellTwice reports logs that are the same drive, which every count would then count twice.
func (l *Logs) tellTwice(logs []analyze.Log) {
	for i := range logs {
		for k := range logs[:i] {
			if analyze.SameDrive(&logs[i], &logs[k]) {
				l.hold(logs[i].Name, logs[i].Name, "the same drive as "+logs[k].Name+"; it is counted twice; leave one out")
				break
			}
		}
	}
}

// Log analyses one log. Each function in also receives every frame that the map may name.
func (l *Logs) Log(ctx context.Context, in source.Input, sha256 bool, also ...func(*decode.Frame)) (*words.Log, error) {
	options, end := l.options(in)
	defer end()
	options.SHA256 = sha256
	result, facts, err := onelog.Read(ctx, l.Map, in, options, also...)
	if err != nil {
		return nil, err
	}
	return &words.Log{Name: in.Name, SHA256: facts.SHA256, Bytes: facts.Bytes, Result: result}, nil
}

// blindness says why a log shows nothing of the engine.
func (l *Logs) blindness(log *words.Log) error {
	info := &log.Result.Info
	if err := logfile.Unusable(log.Name, info); err != nil {
		return err
	}
	signal := l.Map.RoleSignal(decode.EngineSpeed)
	entry := &l.Map.Entries[signal.Entry]
	where := entry.Label()
	if entry.Bus != "" && entry.Bus != noBus {
		where += " on " + entry.Bus
	}
	f := &words.Failure{Where: log.Name,
		What: fmt.Sprintf("the engine speed (signal %s in %s) is never seen", signal.Name, where),
		Hint: fmt.Sprintf("check the map; this log has the interfaces %s", words.Interfaces(info))}
	if slices.Contains(l.missingBuses(info), entry.Bus) || entry.Bus == noBus {
		f.What = fmt.Sprintf("no frame of the interface %s, on which the engine speed is looked for", strings.Join(l.missingBuses(info), ", "))
		f.Hint = "this log has " + words.Interfaces(info)
		if entry.Bus == noBus {
			f.What = fmt.Sprintf("the map has the engine speed on another interface than %s", l.Bus)
		}
	} else if entry.Polled() {
		f.Hint = "polled answers are needed for it; check the map and that a tester was asking"
	}
	for _, d := range log.Result.Trust.Doubts {
		if short, ok := d.Cause.(analyze.ShortFrame); ok && short.Signal == signal.Name {
			f.What, f.Hint, _ = strings.Cut(words.DoubtText(&d), ": ")
		}
	}
	if info.Rejected > 0 {
		f.What += ", and " + decode.Counted(info.Rejected, "line of it is", "lines of it are") + " no CAN frame"
	}
	return f
}

// ErrBroken is the error of Check for a broken limit. The result itself says which.
var ErrBroken = errors.New("a limit was broken")

// ErrUnusable is the error of Check for a log that cannot be used. Its text says why.
type ErrUnusable struct{ Text string }

func (e *ErrUnusable) Error() string { return e.Text }

// Check returns an error if a log cannot be used or, failing that, if a limit of the map is
// broken.
func Check(r *words.Report) error {
	for i := range r.Logs {
		if !r.Logs[i].Result.Usable() {
			return &ErrUnusable{r.TrustText()}
		}
	}
	if broken(r) {
		return ErrBroken
	}
	return nil
}

// broken reports whether a limit of the map is broken.
func broken(r *words.Report) bool {
	for i := range r.Logs {
		for k := range r.Logs[i].Result.Episodes {
			for _, v := range r.Logs[i].Result.Episodes[k].Limits {
				if v.Verdict == analyze.Outside {
					return true
				}
			}
		}
	}
	return false
}
