package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"lull/cmd/lull/internal/table"
)

// Annotations that a command may carry for its help.
const (
	sectionFormats  = "formats"
	sectionExit     = "exit"
	sectionCautions = "cautions"
)

const exitText = "0: done.\n" +
	"1: it could not be done, in whole or in part; standard error says what, where and what to do.\n" +
	"2: wrong use.\n" +
	"3: --check was given and a limit of the map is broken, or a log cannot be used. A borderline value breaks none."

// plainExitText is for commands without --check.
const plainExitText = "0: done.\n" +
	"1: it could not be done, in whole or in part; standard error says what, where and what to do.\n" +
	"2: wrong use."

const cautionText = "A car with idle stop can start by itself: follow the maker's procedure before you work on it.\n" +
	"lull only reads. It sends nothing to a vehicle and changes nothing in one.\n" +
	"Bounds speak of what was on the bus. The delay inside the module that sent it is not known."

var helpSections = []struct{ key, title string }{
	{sectionFormats, "Formats"},
	{sectionExit, "Exit status"},
	{sectionCautions, "Cautions"},
}

// newHelp is the command `help`.
func newHelp(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND]",
		Short: "shows the help of a command",
		RunE: func(_ *cobra.Command, args []string) error {
			cmd, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				return unknownCommand(root, args)
			}
			return cmd.Help()
		},
	}
}

// writeHelp prints a command's help, wrapped at the width of the output.
func writeHelp(c *console, cmd *cobra.Command) {
	fmt.Fprint(c.out, helpText(cmd, min(c.width, 100)))
}

func helpText(cmd *cobra.Command, width int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n\n", table.Wrap(cmd.CommandPath()+" - "+cmd.Short, width, ""))
	fmt.Fprintf(&b, "Usage:\n%s\n", table.Wrap(cmd.UseLine(), width, "  "))
	if cmd.HasAvailableSubCommands() {
		fmt.Fprintf(&b, "%s\n", table.Wrap(cmd.CommandPath()+" COMMAND --help", width, "  "))
	}
	if cmd.Long != "" {
		b.WriteString("\n")
		for i, paragraph := range strings.Split(cmd.Long, "\n") {
			if i > 0 {
				b.WriteString("\n")
			}
			fmt.Fprintf(&b, "%s\n", table.Wrap(paragraph, width, ""))
		}
	}
	if cmd.HasAvailableSubCommands() {
		b.WriteString("\nCommands:\n")
		var rows [][2]string
		for _, sub := range cmd.Commands() {
			if sub.IsAvailableCommand() {
				rows = append(rows, [2]string{sub.Name(), sub.Short})
			}
		}
		writeDefinitions(&b, rows, width)
	}
	if cmd.Example != "" {
		fmt.Fprintf(&b, "\nExamples:\n%s\n", strings.TrimRight(cmd.Example, "\n"))
	}
	if rows := flagRows(cmd); len(rows) > 0 {
		b.WriteString("\nFlags:\n")
		writeDefinitions(&b, rows, width)
	}
	for _, s := range helpSections {
		if text := cmd.Annotations[s.key]; text != "" {
			fmt.Fprintf(&b, "\n%s:\n", s.title)
			for _, line := range strings.Split(text, "\n") {
				fmt.Fprintf(&b, "%s\n", table.WrapHanging(line, width, "  ", "     "))
			}
		}
	}
	return b.String()
}

func flagRows(cmd *cobra.Command) [][2]string {
	var rows [][2]string
	cmd.Flags().VisitAll(func(f *pflag.Flag) {
		if f.Hidden {
			return
		}
		name := "    --" + f.Name
		if f.Shorthand != "" {
			name = "-" + f.Shorthand + ", --" + f.Name
		}
		kind, text := pflag.UnquoteUsage(f)
		if kind != "" {
			name += " " + kind
		}
		rows = append(rows, [2]string{name, text})
	})
	return rows
}

// writeDefinitions sets terms and their texts in two columns.
func writeDefinitions(b *strings.Builder, rows [][2]string, width int) {
	column := 0
	for _, r := range rows {
		column = max(column, len(r[0]))
	}
	indent := strings.Repeat(" ", column+4)
	for _, r := range rows {
		first := "  " + r[0] + strings.Repeat(" ", column-len(r[0])+2)
		fmt.Fprintf(b, "%s\n", table.WrapHanging(r[1], width, first, indent))
	}
}
