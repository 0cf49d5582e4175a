package measuring

import (
	"context"
	"io/fs"
	"os"

	"lull/cmd/lull/internal/words"
	"lull/pkg/source"
)

// starts gives what looks for the date of a log's first frame, until the context
// ends.
func (l *Logs) starts(ctx context.Context) func(source.Input) (int64, bool) {
	return func(in source.Input) (int64, bool) {
		file, err := source.Open(in, l.Stdin)
		if err != nil {
			return 0, false
		}
		defer file.Close()
		defer context.AfterFunc(ctx, func() { _ = file.Close() })()
		reader, err := readLog(file, l.Stamps, nil)
		if err != nil || !reader.Scan() || !reader.Info().Stamps.Dated() {
			return 0, false
		}
		return reader.Frame().Time, true
	}
}

// notAnInput refuses to write a result over what it is made from, be it named or given
// as standard input.
func (l *Logs) notAnInput(mapPath string) error {
	out := l.Output
	if out == "" || out == "-" {
		return nil
	}
	target, err := os.Stat(out)
	if err != nil {
		return nil // nothing is there, or writing will fail and say why
	}
	same := func(path string) bool {
		info, err := os.Stat(path)
		if given, ok := l.Stdin.(interface{ Stat() (fs.FileInfo, error) }); path == source.Stdin && ok {
			info, err = given.Stat()
		}
		return err == nil && os.SameFile(target, info)
	}
	clash := same(mapPath)
	for _, in := range l.Inputs {
		clash = clash || target.Mode().IsRegular() && same(in.Path)
	}
	if clash {
		return words.Misused("name another file", "-o %s: the result would be written over what it is made from", out)
	}
	return nil
}
