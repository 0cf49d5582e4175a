package measuring

import (
	"context"
	"io"
	"os"

	"lull/cmd/lull/internal/words"
	"lull/pkg/source"
)

// keepWhatPasses keeps what comes on standard input or through a pipe, so that it can
// be read twice; the function given back lets go of it.
func (l *Logs) keepWhatPasses(ctx context.Context) (clean func(), err error) {
	clean = func() {
		for i := range l.Inputs {
			if kept := l.Inputs[i].Kept; kept != nil {
				_ = kept.Close() // and with that it is gone
			}
		}
	}
	for i := range l.Inputs {
		in := &l.Inputs[i]
		from, passes := l.passing(ctx, in.Path)
		if !passes {
			continue
		}
		if in.Kept, err = source.Keep(from); err != nil {
			clean()
			return nil, &words.Failure{Where: in.Name, What: "cannot be kept for a second reading: " + words.PlainError(err), Hint: "name a file, or make room where TMPDIR is", Cause: err}
		}
	}
	return clean, nil
}

// passing gives what can be read only once: standard input, or a pipe, which is
// opened as soon as it is read.
func (l *Logs) passing(ctx context.Context, path string) (io.Reader, bool) {
	if path == source.Stdin {
		return l.Stdin, true
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().IsRegular() || info.IsDir() {
		return nil, false // a file, or what reading it will tell
	}
	return Interruptible(ctx, &opened{path: path}), true
}

// opened is a file that is opened when it is first read, as opening a pipe waits for
// who writes to it, and closed at its end.
type opened struct {
	path string
	file *os.File
}

func (o *opened) Read(p []byte) (n int, err error) {
	if o.file == nil {
		if o.file, err = os.Open(o.path); err != nil {
			return 0, err
		}
	}
	n, err = o.file.Read(p)
	if err != nil {
		_ = o.file.Close() // only read
	}
	return n, err
}
