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

// Side measures the logs of one side and reads them a second time for the samples of the
// pictures.
func (l *Logs) Side(ctx context.Context) (*page.Side, bool, error) {
	clean, err := l.keepWhatPasses(ctx)
	if err != nil {
		return nil, false, err
	}
	defer clean()
	result, failed, err := l.Report(ctx, true)
	if err != nil {
		return nil, false, err
	}
	episodes := 0
	for i := range result.Logs {
		episodes += len(result.Logs[i].Result.Episodes)
	}
	if l.MostEpisodes > 0 && episodes > l.MostEpisodes {
		return nil, false, errNoRoom
	}
	side := &page.Side{Report: result}
	again := *l
	again.Terse, again.again = true, true // everything was told at the first reading
	for i := range result.Logs {
		log := &result.Logs[i]
		traces, err := again.trace(ctx, log, page.Windows(log.Result))
		if err != nil {
			return nil, false, err
		}
		side.Traces = append(side.Traces, page.TracesOf(log.Result, traces))
	}
	return side, failed, nil
}

// FillReport measures the logs of a report and, unless before is nil, those from before a
// repair, and compares the two. failed reports whether some log could not be read.
func FillReport(ctx context.Context, r *page.Report, before, after *Logs, how How) (failed bool, err error) {
	if before != nil {
		TellApart(before, after)
	}
	side, failed, err := after.Side(ctx)
	if err != nil {
		return failed, err
	}
	r.After = *side
	if before == nil {
		return failed, nil
	}
	var failedToo bool
	if r.Before, failedToo, err = before.Side(ctx); err != nil {
		return true, err
	}
	r.Comparison, err = Compared(r.Before.Report, r.After.Report, how)
	return failed || failedToo, err
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
