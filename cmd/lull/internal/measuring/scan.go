package measuring

import (
	"context"

	"lull/decode/logfile"
	"lull/pkg/source"
)

// Scan reads one log and passes its frames to the visitor, reporting progress if the order
// asks for it.
func (l *Logs) Scan(ctx context.Context, in source.Input, v logfile.Visitor) (logfile.Facts, error) {
	options, end := l.options(in)
	defer end()
	return logfile.Read(ctx, in, options, v)
}

// options returns how to read a log; end must be called when it has been read.
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
