package main

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
	"lull/decode/sigmap"
)

func newMap(c *console) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "map",
		Short: "checks, shows and makes signal maps",
		Long: "A signal map is a YAML file that says where in which frames the signals are, what they mean to the " +
			"analysis, what may ask for a restart and what keeps the engine from being stopped.",
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error { return unknownCommand(cmd, args) },
	}
	cmd.AddCommand(newMapCheck(c), newMapShow(c), newMapFrom(c))
	return cmd
}

func newMapCheck(c *console) *cobra.Command {
	var logs []string
	cmd := &cobra.Command{
		Use:   "check MAP [--log LOG...]",
		Short: "lists every mistake of a map, and what of it does not fit a log",
		Long: "Reads a map and prints all its mistakes at once on standard output: file, line and column, the line itself, and " +
			"what would be right. A map without mistakes gives one line that says what it holds.\n" +
			"With --log it is held against logs besides: whether it can be used with each, and if not why; how many of its signals have a value there; and each signal " +
			"whose frame never came, that never had a valid value, or whose bits reach past the end that its frame usually has.\n" +
			"--log takes every argument up to the next flag: files, folders or - for standard input.",
		Example: "  lull map check car.yaml\n" +
			"  lull map check car.yaml --log drive.log\n" +
			"  lull map check car.yaml --log drives/",
		Annotations: map[string]string{sectionExit: "0: the map is good, and can be used with every log given.\n" +
			"1: it has mistakes, cannot be used with some log, or something cannot be read.\n2: wrong use."},
		Args:              wants(1, 1, "the map"),
		ValidArgsFunction: completeMaps,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := named("--log", logs); err != nil {
				return err
			}
			m, err := sigmap.Load(args[0])
			var mistakes sigmap.Errors
			if errors.As(err, &mistakes) {
				if err := emit(c, "", func(w io.Writer) error { return listMistakes(w, mistakes) }); err != nil {
					return err
				}
				return words.ErrTold
			}
			if err != nil {
				return err
			}
			if err := emit(c, "", func(w io.Writer) error {
				_, err := fmt.Fprintln(w, table.Wrap(words.MapSummary(m)+"; no mistake found", 1<<20, ""))
				return err
			}); err != nil || len(logs) == 0 {
				return err
			}
			return checkFit(cmd, c, args[0], logs)
		},
	}
	cmd.Flags().StringArrayVar(&logs, "log", nil, "`LOG`s that the map is held against, up to the next flag")
	return cmd
}

// checkFit holds a map against logs.
func checkFit(cmd *cobra.Command, c *console, path string, args []string) error {
	logs, err := newLogs(cmd, c, &logFlags{mapPath: path}, args)
	if err != nil {
		return err
	}
	list, failed, err := logs.Fit(cmd.Context())
	if err != nil {
		return err
	}
	if err := emit(c, "", func(w io.Writer) error { return table.WriteFit(w, list, c.style()) }); err != nil {
		return err
	}
	if failed || slices.ContainsFunc(list, func(f words.Fit) bool { return !f.Usable() }) {
		return words.ErrTold
	}
	return nil
}

func newMapShow(c *console) *cobra.Command {
	return &cobra.Command{
		Use:   "show MAP",
		Short: "draws the bits of a map",
		Long: "Draws each entry of a map: for every signal one line of facts and one ruler that marks its bits, " +
			"in the order in which the bytes are sent.",
		Example:           "  lull map show car.yaml",
		Args:              wants(1, 1, "the map"),
		ValidArgsFunction: completeMaps,
		RunE: func(_ *cobra.Command, args []string) error {
			m, err := sigmap.Load(args[0])
			if err != nil {
				return err
			}
			return emit(c, "", func(w io.Writer) error { return table.WriteMapBits(w, m, c.style()) })
		},
	}
}

func completeMaps(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return []string{"yaml", "yml"}, cobra.ShellCompDirectiveFilterFileExt
}

// listMistakes prints every mistake of a map, each with its line.
func listMistakes(w io.Writer, mistakes sigmap.Errors) error {
	for _, m := range mistakes {
		if _, err := fmt.Fprintln(w, words.VisibleBlock(m.Show())); err != nil {
			return err
		}
	}
	return nil
}
