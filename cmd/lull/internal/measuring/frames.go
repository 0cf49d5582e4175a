package measuring

import (
	"context"

	"lull/analyze/census"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/logfile"
)

// Counting is what is counted in logs of which no map is known.
type Counting struct {
	Bitrate float64 // 0: not known
	Values  bool    // what was seen in each byte
	Only    []words.WantedID
}

// FramesAgainst counts what is in the logs of two sides, and what differs.
func FramesAgainst(ctx context.Context, of, against *Logs, k Counting) (r *words.Frames, failed bool, err error) {
	k.Values = true
	if r, failed, err = of.Frames(ctx, k); err != nil {
		return nil, true, err
	}
	k.Only = nil // that it is on one side alone is a difference
	other, otherFailed, err := against.Frames(ctx, k)
	if err != nil {
		return nil, true, err
	}
	r.Against = other.Logs
	results := func(logs []words.FramesLog) []*census.Result {
		var list []*census.Result
		for i := range logs {
			list = append(list, logs[i].Result)
		}
		return list
	}
	r.Differences = census.Differ(results(r.Logs), results(r.Against))
	return r, failed || otherFailed, nil
}

// Frames counts what is in every log that can be read, and reports the others; failed
// reports whether there were any. It is an error if no log is left, or if no log has any of
// the identifiers that are asked for.
func (l *Logs) Frames(ctx context.Context, k Counting) (r *words.Frames, failed bool, err error) {
	defer l.tellHeld()
	r, failed = &words.Frames{Bitrate: k.Bitrate, Several: len(l.Inputs) > 1, Only: k.Only}, l.Failed
	for _, in := range l.Inputs {
		counter := census.New(census.Options{Bus: l.Bus, Bits: k.Bitrate > 0, Values: k.Values})
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
	return r, failed, missing(r)
}

// missing says which of the identifiers that were asked for is in none of the logs.
func missing(r *words.Frames) error {
	for _, w := range r.Only {
		alone := words.Frames{Only: []words.WantedID{w}}
		there := false
		for i := range r.Logs {
			for j := range r.Logs[i].Result.IDs {
				there = there || alone.Wants(&r.Logs[i].Result.IDs[j])
			}
		}
		if !there {
			where := r.Logs[0].Name
			if len(r.Logs) > 1 {
				where = "the logs"
			}
			return &words.Failure{
				Where: where, What: "no frame of identifier " + decode.FormatID(w.ID, w.Long || w.ID > 0x7FF),
				Hint: "lull frames without --id lists those that are there",
			}
		}
	}
	return nil
}
