package measuring

import (
	"context"

	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/logfile"
)

// Series receives decoded samples.
type Series interface {
	// Begin names the log that the next samples come from.
	Begin(log string)
	// Write takes a sample, t nanoseconds from the log's first frame. digits is the number
	// of decimals of the log's time stamps, 0 if it has none.
	Write(sample *decode.Sample, bus string, t int64, digits int) error
	Flush() error
}

// Samples streams the samples of all logs; wanted selects signals by index, nil selects
// all. A log that cannot be read is reported and left out; an output error ends everything.
func (l *Logs) Samples(ctx context.Context, to Series, wanted []bool) (failed bool, err error) {
	defer l.tellHeld()
	failed = l.Failed
	read := 0
	for _, in := range l.Inputs {
		to.Begin(in.Name)
		decoder := decode.NewDecoder(l.Map)
		var zero int64
		var writing error
		digits, first, count := 0, true, 0
		f, err := l.Scan(ctx, in, logfile.Visitor{Frame: func(frame *decode.Frame, reader logfile.Reader) error {
			if first {
				first, zero = false, frame.Time
				if info := reader.Info(); info.Stamps != decode.StampsNone {
					digits = max(info.StampDigits, 1)
				}
			}
			for i, list := 0, decoder.Decode(frame); i < len(list); i++ {
				if wanted != nil && !wanted[list[i].Signal] {
					continue
				}
				count++
				if writing = to.Write(&list[i], frame.Bus, frame.Time-zero, digits); writing != nil {
					return writing
				}
			}
			return nil
		}})
		switch {
		case writing != nil:
			return failed, writing
		case ctx.Err() != nil:
			return failed, ctx.Err()
		case err == nil:
			err = logfile.Unusable(in.Name, &f.Info)
		}
		if err != nil {
			failed = l.leftOut(in, err) || failed
			continue
		}
		read++
		l.Remarks(in.Name, &f.Info)
		if count == 0 {
			l.hold(in.Name, in.Name, "none of the signals asked for is in it; this log has the interfaces "+words.Interfaces(&f.Info))
		}
	}
	if read == 0 {
		_ = l.nothing() // the output is empty, and stays so
		failed = true
	}
	return failed, to.Flush()
}
