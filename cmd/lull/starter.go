package main

import (
	"io"

	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/document"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
)

func newStarter(c *console) *cobra.Command {
	var flags logFlags
	cmd := &cobra.Command{
		Use:   "starter LOG...",
		Short: "counts starter operations over several logs",
		Long: "Reads the logs of one vehicle, in the order of their starts whatever order they are given in, and counts every operation of the starter: by the key, " +
			"to restart the engine after a stop, and further tries. It holds them against the car's own counter (the role starter_count), says where that was set back, " +
			"what a new control module must be given, and how often the starter turns in an engine hour and in a km.\n" +
			"Cars with idle stop count starter operations and stop the engine no more when a limit is reached. With starter_limit in the map's settings lull says " +
			"how many operations are left, and how many km that is at the rate seen, where the logs hold at least 100 km of driving; else how many km more it takes.\n" +
			"A control module that is replaced is given the old one's count: the last reading and the operations seen after it. A new starter begins at 0. " +
			"That is common practice; the maker's procedure decides.\n" +
			"The rate comes with the exact 95 % interval of a Poisson count, and the km left with the km at its two ends. A few operations say little: the interval shows how little. " +
			"A test drive that stops on purpose has a higher rate than everyday driving.\n" +
			"A drive given twice, even packed or under another name, is counted once. A log whose stamps carry no date stays at the place at which it is given. " +
			"A counter that starts over at its width's end is no reset.\n" +
			"LOG is a file, a folder or - for standard input.",
		Example: "  lull starter drives/\n" +
			"  lull starter monday.log tuesday.log --map car.yaml\n" +
			"  lull starter drives/ --format json | jq .hand_on.value",
		Annotations: map[string]string{
			sectionFormats: "table: for a person; as wide as the terminal, or COLUMNS, or 80. NO_COLOR switches colour off.\n" +
				"json: every figure unrounded; one that is not known is {\"absent\": why}.\n" +
				"An output file's ending implies the format: .txt, .json.",
			sectionExit:     plainExitText,
			sectionCautions: cautionText,
		},
		Args: wants(1, -1, "the log"),
	}
	flags.register(cmd, false, formatTable, formatJSON)
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		format, err := flags.choose()
		if err != nil {
			return err
		}
		logs, err := newLogs(cmd, c, &flags, args)
		if err != nil {
			return err
		}
		logs.TellNamedTwice()
		r, failed, err := logs.Report(cmd.Context(), true)
		if err != nil {
			return err
		}
		report := words.NewStarterReport(r)
		if err := emit(c, flags.out, func(w io.Writer) error {
			if format == formatJSON {
				return document.WriteStarterJSON(w, report)
			}
			return table.WriteStarter(w, report, c.styleFor(flags.out))
		}); err != nil {
			return err
		}
		return ending(failed, false, r)
	}
	return cmd
}
