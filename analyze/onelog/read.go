package onelog

import (
	"context"

	"lull/analyze"
	"lull/decode"
	"lull/decode/logfile"
	"lull/pkg/failure"
	"lull/pkg/source"
)

// Read leads from one log of any form to what was found in it by the map, with what is
// known of its bytes. Where nothing can be measured the error is a *failure.Failure that
// says why. It ends early when the context does. also is shown every frame that the map may
// name, in the same reading.
func Read(ctx context.Context, m *decode.Map, in source.Input, o logfile.Options, also ...func(*decode.Frame)) (*analyze.Result, logfile.Facts, error) {
	run := NewRun(m)
	facts, err := logfile.Read(ctx, in, o, logfile.Visitor{
		Frame: func(f *decode.Frame, _ logfile.Reader) error {
			run.Push(f)
			for _, look := range also {
				look(f)
			}
			return nil
		},
		Passed: run.Pass,
		Filter: decode.NewFilter(m),
	})
	info := &facts.Info
	switch {
	case err != nil:
		return nil, facts, err
	case info.Accepted == 0 && info.Rejected > 0:
		return nil, facts, logfile.Unusable(in.Name, info)
	case info.Stamps == decode.StampsNone && info.Accepted > 0:
		return nil, facts, &failure.Failure{Where: in.Name, What: "its lines have no time stamps, so nothing in it can be measured",
			Hint: "record with candump -l or candump -t a"}
	}
	return run.Finish(facts.Info), facts, nil
}
