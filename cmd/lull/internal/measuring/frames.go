package measuring

import (
	"context"

	"lull/analyze/census"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/logfile"
)

// Frames counts what is in every log that can be read, and reports the others; failed
// reports whether there were any. It is an error if no log is left.
func (l *Logs) Frames(ctx context.Context, bitrate float64) (r *words.Frames, failed bool, err error) {
	defer l.tellHeld()
	r, failed = &words.Frames{Bitrate: bitrate, Several: len(l.Inputs) > 1}, l.Failed
	for _, in := range l.Inputs {
		counter := census.New(census.Options{Bus: l.Bus, Bits: bitrate > 0})
		f, err := l.Scan(ctx, in, logfile.Visitor{Frame: func(f *decode.Frame, _ logfile.Reader) error {
			counter.Add(f)
			return nil
		}})
		if ctx.Err() != nil {
			return nil, true, ctx.Err()
		}
		if err == nil {
			err = logfile.Unusable(in.Name, &f.Info)
		}
		if err != nil {
			failed = l.leftOut(in, err) || failed
			continue
		}
		r.Logs = append(r.Logs, words.FramesLog{Name: in.Name, Result: counter.Result(f.Info)})
	}
	if len(r.Logs) == 0 {
		return nil, true, l.nothing()
	}
	for i := range r.Logs {
		l.Remarks(r.Logs[i].Name, &r.Logs[i].Result.Info)
	}
	return r, failed, nil
}
