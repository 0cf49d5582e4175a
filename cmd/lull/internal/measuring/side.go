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

// Side measures the logs of one side and reads them a second time for the
// samples that the pictures need.
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
	again.Terse, again.again = true, true // all was told at the first reading
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

// trace reads a measured log again for the samples in some windows.
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
