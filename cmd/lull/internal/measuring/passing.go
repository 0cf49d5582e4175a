package measuring

import (
	"context"
	"io"
	"os"

	"lull/cmd/lull/internal/words"
	"lull/pkg/source"
)

// keepWhatPasses copies standard input and pipes to temporary files, so that they can be
// read twice; clean removes the copies.
func (l *Logs) keepWhatPasses(ctx context.Context) (clean func(), err error) {
	clean = func() {
		for i := range l.Inputs {
			if kept := l.Inputs[i].Kept; kept != nil {
				_ = kept.Close() // which removes it
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

// passing returns a reader of what can be read only once: standard input, or a pipe, which
// is opened by the first read.
func (l *Logs) passing(ctx context.Context, path string) (io.Reader, bool) {
	if path == source.Stdin {
		return l.Stdin, true
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().IsRegular() || info.IsDir() {
		return nil, false // a file; or reading it will say what is wrong
	}
	return Interruptible(ctx, &opened{path: path}), true
}

// opened is a file opened by its first read, since opening a pipe waits for a writer, and
// closed at its end.
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
