package main

import (
	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/words"
)

// newLogs checks the arguments of a command on logs and reads its map, if it needs one.
func newLogs(cmd *cobra.Command, c *console, f *logFlags, args []string) (*measuring.Logs, error) {
	stamps, err := f.stamps()
	if err != nil {
		return nil, err
	}
	quiet, _ := cmd.Flags().GetBool("quiet")
	return measuring.New(c.order(quiet, measuring.Order{Args: args, MapPath: f.mapPath, NoMap: f.mapless, Bus: f.bus, Stamps: stamps, Output: f.out}))
}

// order fills in what all orders have in common: who is told, and the standard streams.
func (c *console) order(quiet bool, o measuring.Order) measuring.Order {
	o.Stdin, o.Stdout, o.Terse, o.Version = c.in, c.out, quiet, version()
	o.Tell = func(n measuring.Note) {
		if n.Err != nil {
			printError(c.err, n.Err)
			return
		}
		say(c.err, n.String())
	}
	if c.errTerminal && !quiet {
		o.Progress = newProgress(c.err).show
	}
	return o
}

// ending returns the error of a command whose result has been written.
func ending(failed, check bool, r *words.Report) error {
	switch {
	case failed:
		return words.ErrTold
	case check:
		return measuring.Check(r)
	}
	return nil
}
