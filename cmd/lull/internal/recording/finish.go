package recording

import (
	"fmt"
	"path/filepath"

	"lull/analyze"
	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/candump"
)

// finish closes the log and prints the result of the drive.
func (r *Recorder) finish() error {
	r.whole = true
	unopened := r.failed && r.info.Accepted == 0 // the reason was already told
	if !unopened {
		r.check(r.now())
	}
	fault := r.file.Close()
	var result *analyze.Result
	if r.episodes != nil && r.info.Accepted > 0 {
		info := r.info
		if r.dropped.Count > 0 {
			info.Remarks = append(info.Remarks, candump.DroppedRemark(r.dropped.Line, r.dropped.Count, info.Remarked))
		}
		result = r.episodes.Finish(info)
		r.show(r.cast.Next())
	}
	if !unopened {
		r.remark("%s: %s, %s", r.name(), decode.Counted(r.info.Accepted, "frame", "frames"), bytesText(r.info.Bytes))
	}
	if fault != nil {
		r.fail(fault.Error())
	}
	switch {
	case result != nil && !result.EngineSpeedSeen:
		result = nil
		r.fail(r.name() + ": the engine speed was never seen, so there is nothing to measure; check the map")
	case r.info.Accepted == 0 && !r.failed:
		hint := "switch the ignition on and check the interface"
		if r.played() {
			hint = "play a log there with lull replay"
		}
		r.fail(r.name() + ": no frame was recorded; " + hint)
	}
	r.finishMarks()
	last := r.state(r.now())
	for _, a := range r.shown {
		a.Close(last, r.info.Accepted > 0)
	}
	if result != nil {
		r.report.Logs = []words.Log{{Name: filepath.Base(r.Path), Result: result}}
		if err := r.summarise(); err != nil && !r.failed { // a closed pipe must not hide a failure
			return err
		}
	}
	switch {
	case r.failed:
		return words.ErrTold
	case r.Check && result != nil:
		return measuring.Check(r.report)
	}
	return nil
}

// summarise prints what lull episodes prints.
func (r *Recorder) summarise() error {
	w, style := r.Screen.Out, r.Screen.Style
	if r.Path == "-" {
		w, style.Colour, style.Unicode = r.Screen.Err, false, false
	}
	fmt.Fprintln(w)
	return table.Write(w, r.report, words.Episodes, style)
}
