package measuring

import (
	"context"
	"slices"

	"lull/analyze/fit"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/logfile"
)

// Fit checks the map against every log that can be read, and reports the others; failed
// reports whether there were any. It is an error if no log is left.
func (l *Logs) Fit(ctx context.Context) (list []words.Fit, failed bool, err error) {
	defer l.tellHeld()
	failed = l.Failed
	for _, in := range l.Inputs {
		counted := fit.New(l.Map)
		log, err := l.Log(ctx, in, false, counted.Add)
		if ctx.Err() != nil {
			return nil, true, ctx.Err()
		}
		if err == nil {
			err = logfile.Unusable(in.Name, &log.Result.Info)
		}
		if err != nil {
			failed = l.leftOut(in, err) || failed
			continue
		}
		info := log.Result.Info
		// The result itself lists the signals that were not seen.
		info.Remarks = slices.DeleteFunc(slices.Clone(info.Remarks), func(r decode.Remark) bool { return r.Code == decode.RemarkSignalNotSeen })
		l.Remarks(in.Name, &info)
		list = append(list, words.Fit{Log: *log, Signals: len(l.Map.Signals), Seen: counted.Seen(), Misfits: counted.Misfits()})
	}
	if len(list) == 0 {
		return nil, true, l.nothing()
	}
	return list, failed, nil
}
