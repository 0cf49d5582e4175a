package main

import (
	"context"
	"io/fs"
	"os"

	"lull/pkg/source"
)

// starts gives what looks for the date of a log's first frame, until the context
// ends.
func (j *job) starts(ctx context.Context) func(source.Input) (int64, bool) {
	return func(in source.Input) (int64, bool) {
		file, err := source.Open(in, j.c.in)
		if err != nil {
			return 0, false
		}
		defer file.Close()
		defer context.AfterFunc(ctx, func() { _ = file.Close() })()
		reader, err := readLog(file, form{stamps: j.stamps})
		if err != nil || !reader.Scan() || !reader.Info().Stamps.Dated() {
			return 0, false
		}
		return reader.Frame().Time, true
	}
}

// notAnInput refuses to write a result over what it is made from, or behind it, be it
// named or given as standard input or output.
func notAnInput(c *console, out, mapPath string, inputs []source.Input) error {
	stat := func(path string, stream any) (fs.FileInfo, error) {
		if path == source.Stdin {
			return statOf(stream)
		}
		return os.Stat(path)
	}
	where := "-o " + out
	if out == "" || out == "-" {
		out, where = "-", "standard output"
	}
	target, err := stat(out, c.out)
	if err != nil || !target.Mode().IsRegular() {
		return nil // nothing is there that could be harmed, or writing will fail and say why
	}
	same := func(path string) bool {
		info, err := stat(path, c.in)
		return err == nil && os.SameFile(target, info)
	}
	clash := same(mapPath)
	for _, in := range inputs {
		clash = clash || same(in.Path)
	}
	if clash {
		return misuse("name another file", "%s: the result would be written into what it is made from", where)
	}
	return nil
}
