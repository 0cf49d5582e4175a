package main

import (
	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/words"
)

// newLogs checks the arguments of a command on logs and reads its map, where
// it needs one.
func newLogs(c *console, f *logFlags, quiet bool, args []string) (*measuring.Logs, error) {
	stamps, err := f.stamps()
	if err != nil {
		return nil, err
	}
	return measuring.New(c.order(quiet, measuring.Order{Args: args, MapPath: f.mapPath, NoMap: f.mapless, Bus: f.bus, Stamps: stamps, Output: f.out}))
}

// order fills in what is the same of every order: who is told, and what standard input
// is.
func (c *console) order(quiet bool, o measuring.Order) measuring.Order {
	o.Stdin, o.Stdout, o.Terse, o.Version = c.in, c.out, quiet, version()
	o.Tell = func(n measuring.Note) {
		if n.Err != nil {
			report(c.err, n.Err)
			return
		}
		say(c.err, n.String())
	}
	if c.errTerminal && !quiet {
		o.Progress = newProgress(c.err).show
	}
	return o
}

// ending is how a command ends whose result was written.
func ending(failed, check bool, r *words.Report) error {
	switch {
	case failed:
		return words.ErrTold
	case check:
		return measuring.Check(r)
	}
	return nil
}
