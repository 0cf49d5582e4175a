package measuring

import (
	"context"
	"io/fs"
	"os"

	"lull/cmd/lull/internal/words"
	"lull/decode/logfile"
	"lull/pkg/source"
)

// starts returns a function that finds the date of a log's first frame, until the context
// ends.
func (l *Logs) starts(ctx context.Context) func(source.Input) (int64, bool) {
	return func(in source.Input) (int64, bool) {
		file, err := source.Open(in, l.Stdin)
		if err != nil {
			return 0, false
		}
		defer file.Close()
		defer context.AfterFunc(ctx, func() { _ = file.Close() })()
		reader, err := logfile.Open(file, l.Stamps, nil)
		if err != nil || !reader.Scan() || !reader.Info().Stamps.Dated() {
			return 0, false
		}
		return reader.Frame().Time, true
	}
}

// notAnInput refuses to overwrite, or append to, a file that the result is made from,
// whether it is named or is standard input or output.
func (l *Logs) notAnInput(mapPath string) error {
	stat := func(path string, stream any) (fs.FileInfo, error) {
		if path == source.Stdin {
			return source.Stat(stream)
		}
		return os.Stat(path)
	}
	out, where := l.Output, "-o "+l.Output
	if out == "" || out == source.Stdin {
		out, where = source.Stdin, "standard output"
	}
	target, err := stat(out, l.Stdout)
	if err != nil || !target.Mode().IsRegular() {
		return nil // nothing there to harm, or writing will fail and say why
	}
	same := func(path string) bool {
		info, err := stat(path, l.Stdin)
		return err == nil && os.SameFile(target, info)
	}
	clash := same(mapPath)
	for _, in := range l.Inputs {
		clash = clash || same(in.Path)
	}
	if clash {
		return words.Misused("name another file", "%s: the result would be written into what it is made from", where)
	}
	return nil
}
