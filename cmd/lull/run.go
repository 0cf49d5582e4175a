package main

import (
	"context"
	"errors"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/words"
)

// run executes one command line and returns the exit status.
func run(args []string, c *console) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // so that a second interrupt ends the process, even if it waits for a pipe that nobody writes to
	ctx, stopHangup := unlessClosed(ctx)
	defer stopHangup()
	own := *c
	own.in = measuring.Interruptible(ctx, c.in)
	out := &outlet{w: c.out}
	own.out = out
	root := newRoot(&own)
	root.SetArgs(spreadFor(args))
	err := root.ExecuteContext(ctx)
	var worded *words.Failure // set by code that knows better what the interrupt ended
	if ctx.Err() != nil && err != nil && !errors.Is(err, words.ErrTold) && (errors.Is(err, context.Canceled) || !errors.As(err, &worded)) {
		err = &words.Failure{What: "interrupted", Hint: "no output file was written"}
	}
	if fault := out.failed(); fault != nil && !brokenPipe(fault) && !errors.Is(err, words.ErrTold) && !errors.As(err, &worded) {
		err = &words.Failure{Where: "standard output", What: words.PlainError(fault), Hint: "what was written there is not whole", Cause: fault}
	}
	if brokenPipe(err) {
		// The reader has seen enough, as `| head` does, which is not a failure.
		return statusDone
	}
	return printError(c.err, err)
}

// unlessClosed also ends a command when its terminal is closed, unless it was started to
// outlive that (nohup). Incomplete and temporary files are then removed, as always.
func unlessClosed(ctx context.Context) (context.Context, context.CancelFunc) {
	if signal.Ignored(syscall.SIGHUP) {
		return context.WithCancel(ctx)
	}
	return signal.NotifyContext(ctx, syscall.SIGHUP)
}

// newRoot builds the command tree.
func newRoot(c *console) *cobra.Command {
	root := &cobra.Command{
		Use:   "lull",
		Short: "measures idle stops in a CAN log",
		Long: "lull reads a candump log of a road test and a signal map that you wrote for the vehicle. " +
			"It finds every idle stop: when the engine was stopped, what asked for the restart, how long " +
			"the restart took and between which bounds that lies, and it says for every standstill in which the engine ran on " +
			"what kept it from being stopped.",
		Example: "  lull demo                                  write a demonstration and measure it\n" +
			"  lull episodes drive.log                    with map.yaml beside the log\n" +
			"  lull episodes drive.log --map car.yaml -o drive.csv\n" +
			"  lull standstills drives/ --map car.yaml    every log in a folder",
		Annotations: map[string]string{
			sectionExit:     exitText,
			sectionCautions: cautionText,
		},
		Args:          cobra.ArbitraryArgs,
		SilenceErrors: true,
		SilenceUsage:  true,
	}
	tell := root.Flags().Bool("version", false, "show which lull this is")
	root.RunE = func(cmd *cobra.Command, args []string) error {
		if *tell && len(args) == 0 {
			return tellVersion(c)
		}
		return unknownCommand(cmd, args)
	}
	root.SetIn(c.in)
	root.SetOut(c.out)
	root.SetErr(c.err)
	root.SetHelpFunc(func(cmd *cobra.Command, _ []string) { writeHelp(c, cmd) })
	root.SetFlagErrorFunc(flagError)
	root.SetHelpCommand(newHelp(root))
	root.CompletionOptions.DisableDefaultCmd = true
	root.PersistentFlags().Bool("quiet", false, "say nothing on standard error but errors")
	root.PersistentFlags().BoolP("help", "h", false, "show this help")

	root.AddCommand(commands(c)...)
	return root
}

// unknownCommand is what a command with subcommands does if none of them was named: help,
// or an error with a suggestion.
func unknownCommand(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return cmd.Help()
	}
	names := make([]string, 0, 16)
	for _, sub := range cmd.Commands() {
		if sub.IsAvailableCommand() {
			names = append(names, sub.Name())
		}
	}
	prefix := cmd.CommandPath() + " "
	fallback := "see " + prefix + "--help"
	if _, err := os.Stat(args[0]); err == nil && !cmd.HasParent() {
		fallback = "to measure a log: lull episodes " + args[0]
	}
	return words.Misused(suggestion(nearest(args[0], names), prefix, fallback), "%s: no such command", args[0])
}

// flagError turns an error of the flag parser into a Misuse with a suggestion.
func flagError(cmd *cobra.Command, err error) error {
	help := "see " + cmd.CommandPath() + " --help"
	var unknown *pflag.NotExistError
	if errors.As(err, &unknown) {
		name := unknown.GetSpecifiedName()
		var names, same []string
		cmd.Flags().VisitAll(func(f *pflag.Flag) {
			names = append(names, f.Name)
			if strings.HasPrefix(f.Name, name) {
				same = append(same, f.Name)
			}
		})
		if unknown.GetSpecifiedShortnames() != "" { // a single letter, most likely the first of the flag meant
			return words.Misused(suggestion(same, "--", help), "-%s: no such flag", name)
		}
		if name == "version" {
			help = "lull version tells it"
		}
		return words.Misused(suggestion(nearest(name, names), "--", help), "--%s: no such flag", name)
	}
	var missing *pflag.ValueRequiredError
	if errors.As(err, &missing) {
		return words.Misused(help, "--%s: its value is missing", missing.GetFlag().Name)
	}
	var invalid *pflag.InvalidValueError
	if errors.As(err, &invalid) {
		return words.Misused(help, "--%s: invalid value %q", invalid.GetFlag().Name, invalid.GetValue())
	}
	return words.Misused(help, "%s", strings.TrimSpace(err.Error()))
}

// wants checks the number of arguments. If most is -1 there is no upper limit.
func wants(least, most int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		usage := "usage: " + cmd.UseLine()
		switch {
		case len(args) < least:
			return words.Misused(usage, "%s: %s is missing", cmd.CommandPath(), what)
		case most >= 0 && len(args) > most:
			return words.Misused(usage, "%s: one argument too many: %s", cmd.CommandPath(), args[most])
		}
		return nil
	}
}

// brokenPipe reports whether an error is only the reader of a pipe going away.
func brokenPipe(err error) bool { return errors.Is(err, syscall.EPIPE) }
