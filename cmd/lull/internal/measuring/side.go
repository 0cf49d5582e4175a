package measuring

import (
	"context"

	"lull/analyze"
	"lull/analyze/trace"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/logfile"
)

// Side measures the logs of one side and reads them a second time for the samples of
// everything that can be drawn.
func (l *Logs) Side(ctx context.Context) (*page.Side, bool, error) {
	side, clean, failed, err := l.side(ctx)
	if err != nil {
		return nil, false, err
	}
	defer clean()
	var drawn []page.Drawn
	for i := range side.Logs {
		drawn = append(drawn, page.Everything(side.Logs[i].Result))
	}
	return side, failed, l.traces(ctx, side, drawn)
}

// side measures the logs of one side, which can then be read again until clean is called.
func (l *Logs) side(ctx context.Context) (side *page.Side, clean func(), failed bool, err error) {
	kept, err := l.keepWhatPasses(ctx)
	if err != nil {
		return nil, nil, false, err
	}
	defer func() {
		if err != nil {
			kept()
		}
	}()
	result, failed, err := l.Report(ctx, true)
	if err != nil {
		return nil, nil, false, err
	}
	episodes := 0
	for i := range result.Logs {
		episodes += len(result.Logs[i].Result.Episodes)
	}
	if l.MostEpisodes > 0 && episodes > l.MostEpisodes {
		return nil, nil, false, errNoRoom
	}
	return &page.Side{Report: result}, kept, failed, nil
}

// traces reads the logs of which something is drawn again, for its samples.
func (l *Logs) traces(ctx context.Context, side *page.Side, drawn []page.Drawn) error {
	again := *l
	again.Terse, again.again = true, true // everything was told at the first reading
	side.Traces = make([]page.LogTraces, len(side.Logs))
	for i := range side.Logs {
		log := &side.Logs[i]
		windows := drawn[i].Windows(log.Result)
		if len(windows) == 0 {
			continue
		}
		traces, err := again.trace(ctx, log, windows)
		if err != nil {
			return err
		}
		side.Traces[i] = drawn[i].Traces(log.Result, traces)
	}
	return nil
}

// FillReport measures the logs of a report and, unless before is nil, those from before a
// repair, compares the two, and reads again what is drawn. failed reports whether some log
// could not be read.
func FillReport(ctx context.Context, r *page.Report, before, after *Logs, how How) (failed bool, err error) {
	if before != nil {
		TellApart(before, after)
	}
	side, clean, failed, err := after.side(ctx)
	if err != nil {
		return failed, err
	}
	defer clean()
	r.After = *side
	if before != nil {
		var failedToo bool
		if r.Before, clean, failedToo, err = before.side(ctx); err != nil {
			return true, err
		}
		defer clean()
		failed = failed || failedToo
		if r.Comparison, err = Compared(r.Before.Report, r.After.Report, how); err != nil {
			return failed, err
		}
	}
	drawnBefore, drawnAfter := r.Drawn()
	if before != nil {
		if err := before.traces(ctx, r.Before, drawnBefore); err != nil {
			return failed, err
		}
	}
	return failed, after.traces(ctx, &r.After, drawnAfter)
}

// trace reads a measured log again for the samples in the windows.
func (l *Logs) trace(ctx context.Context, log *words.Log, windows []analyze.Window) ([]analyze.Traces, error) {
	for _, in := range l.Inputs {
		if in.Name != log.Name {
			continue
		}
		t := trace.New(l.Map, log.Result, windows)
		_, err := l.Scan(ctx, in, logfile.Visitor{
			Frame:  func(f *decode.Frame, _ logfile.Reader) error { t.Push(f); return nil },
			Passed: t.Pass,
			Filter: decode.NewFilter(l.Map),
		})
		return t.Finish(), err
	}
	return nil, &words.Failure{Where: log.Name, What: "cannot be read a second time", Hint: "do not move logs while they are read"}
}
