package main

import (
	"io"
	"slices"

	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/document"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

func newSamples(c *console) *cobra.Command {
	var flags logFlags
	var signals []string
	cmd := &cobra.Command{
		Use:   "samples LOG...",
		Short: "writes decoded samples",
		Long: "Reads one or more logs and writes every sample that the map decodes, in the order in which the frames lie in the log, in " +
			"bounded memory however long the log is. A sample that is no value, because the map or the standard says that it is not " +
			"valid, has an empty value.",
		Example: "  lull samples drive.log --signal engine_speed > speed.csv\n" +
			"  lull samples drive.log --format ndjson | jq 'select(.signal == \"battery\")'",
		Annotations: map[string]string{
			sectionFormats: "csv: log,t,bus,frame,signal,value,unit,label; t in s from the first frame, empty where the log has no times.\n" +
				"ndjson: the same keys, one JSON object a line; null where there is no time, value or label.",
			sectionExit: plainExitText,
		},
		Args: wants(1, -1, "the log"),
	}
	flags.register(cmd, false, formatCSV, formatNDJSON)
	cmd.Flags().StringArrayVar(&signals, "signal", nil, "only the signal `NAME`; may be given several times")
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		format, err := flags.choose()
		if err != nil {
			return err
		}
		logs, err := newLogs(cmd, c, &flags, args)
		if err != nil {
			return err
		}
		wanted, err := pick(logs.Map, signals)
		if err != nil {
			return err
		}
		failed := false
		err = emit(c, flags.out, func(w io.Writer) error {
			failed, err = logs.Samples(cmd.Context(), document.NewSampleWriter(w, logs.Map, format == formatNDJSON), wanted)
			return err
		})
		if err != nil {
			return err
		}
		return ending(failed, false, nil)
	}
	return cmd
}

// pick selects the signals that were asked for; nil means all.
func pick(m *decode.Map, names []string) ([]bool, error) {
	if len(names) == 0 {
		return nil, nil
	}
	all := make([]string, len(m.Signals))
	for i := range m.Signals {
		all[i] = m.Signals[i].Name
	}
	wanted := make([]bool, len(all))
	for _, name := range names {
		i := slices.Index(all, name)
		if i < 0 {
			return nil, words.Misused(suggestion(nearest(name, all), "", "lull map show lists them"), "--signal %s: %s has no such signal", name, m.Name)
		}
		wanted[i] = true
	}
	return wanted, nil
}
