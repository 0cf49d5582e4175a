package measuring

import (
	"context"

	"lull/decode/logfile"
	"lull/pkg/source"
)

// Scan reads one log and gives its frames to the visitor; who asked for it is told how
// far that is.
func (l *Logs) Scan(ctx context.Context, in source.Input, v logfile.Visitor) (logfile.Facts, error) {
	options, end := l.options(in)
	defer end()
	return logfile.Read(ctx, in, options, v)
}

// options is how a log is read; end tells that nothing more of it is.
func (l *Logs) options(in source.Input) (o logfile.Options, end func()) {
	o = logfile.Options{Stdin: l.Stdin, Stamps: l.Stamps}
	if l.Progress == nil {
		return o, func() {}
	}
	at, begun := Progress{Log: in.Name, Again: l.again}, false
	o.Progress = func(position, size int64) {
		at.Position, at.Size, begun = position, size, true
		l.Progress(at)
	}
	return o, func() {
		if at.Done = true; begun {
			l.Progress(at)
		}
	}
}
