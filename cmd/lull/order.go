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

// notAnInput refuses to write a result over what it is made from, be it named or given
// as standard input.
func notAnInput(c *console, out, mapPath string, inputs []source.Input) error {
	if out == "" || out == "-" {
		return nil
	}
	target, err := os.Stat(out)
	if err != nil {
		return nil // nothing is there, or writing will fail and say why
	}
	same := func(path string) bool {
		info, err := os.Stat(path)
		if given, ok := c.in.(interface{ Stat() (fs.FileInfo, error) }); path == source.Stdin && ok {
			info, err = given.Stat()
		}
		return err == nil && os.SameFile(target, info)
	}
	clash := same(mapPath)
	for _, in := range inputs {
		clash = clash || target.Mode().IsRegular() && same(in.Path)
	}
	if clash {
		return misuse("name another file", "-o %s: the result would be written over what it is made from", out)
	}
	return nil
}
