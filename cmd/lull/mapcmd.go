package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
	"lull/decode/sigmap"
)

func newMap(c *console) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "map",
		Short: "checks and shows signal maps",
		Long: "A signal map is a YAML file that says where in which frames the signals are, what they mean to the " +
			"analysis, what may ask for a restart and what keeps the engine from being stopped.",
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error { return unknownCommand(cmd, args) },
	}
	cmd.AddCommand(newMapCheck(c), newMapShow(c))
	return cmd
}

func newMapCheck(c *console) *cobra.Command {
	return &cobra.Command{
		Use:   "check MAP",
		Short: "lists every mistake of a map",
		Long: "Reads a map and prints all its mistakes at once on standard output: file, line and column, the line itself, and " +
			"what would be right. A map without mistakes gives one line that says what it holds.",
		Example: "  lull map check car.yaml",
		Annotations: map[string]string{sectionExit: "0: the map is good.\n" +
			"1: it has mistakes, or cannot be read.\n2: wrong use."},
		Args:              wants(1, 1, "the map"),
		ValidArgsFunction: completeMaps,
		RunE: func(_ *cobra.Command, args []string) error {
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
			return emit(c, "", func(w io.Writer) error {
				_, err := fmt.Fprintln(w, table.Wrap(words.MapSummary(m)+"; no mistake found", 1<<20, ""))
				return err
			})
		},
	}
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
