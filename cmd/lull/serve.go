package main

import (
	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/recording"
	"lull/cmd/lull/internal/serving"
)

func newServe(c *console) *cobra.Command {
	o := serving.Options{Options: recording.Options{Version: version(), Screen: c.screen()}}
	var bitrate string
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "serves a page on which a log can be dropped",
		Long: "Serves a page to the browser on this machine. Drop a log and its map on it, and it shows what lull report shows: the answer in words, every episode and every standstill as a story with its picture, " +
			"and why the engine ran on in some; a second log is held against the first. The report, PDF, csv, xlsx and json can be saved from it.\n" +
			"The page's address is printed; it has a secret part that changes with every start, so that nobody else on this machine can open it. " +
			"The server listens on 127.0.0.1 alone, needs no network and sends nothing anywhere. What is dropped lies in a private temporary folder (TMPDIR) until lull serve ends.\n" +
			"With --interface it records as lull record does, into a file that stays, and the page shows what happens as it happens: what the car does, each episode, standstill and finding as it ends, " +
			"what is missing, the last value of every signal. Buttons on it mark the brake, the turn lamps and what the dashboard shows, for lull draft, which makes a map of the log and the marks. When the recording is ended, on the page, by its sources or by Ctrl-C, the summary is printed; until Ctrl-C the page measures it.",
		Example: "  lull serve\n" +
			"  lull serve --open --map car.yaml\n" +
			"  lull serve --interface can0 --map car.yaml\n" +
			"  lull serve --port 8123",
		Annotations: map[string]string{sectionExit: plainExitText, sectionCautions: cautionText},
		Args:        wants(0, 0, ""),
		RunE: func(cmd *cobra.Command, _ []string) (err error) {
			if o.Bitrate, err = parseBitrate(bitrate); err != nil {
				return err
			}
			o.Quiet, _ = cmd.Flags().GetBool("quiet")
			return serving.Run(cmd.Context(), o)
		},
	}
	cmd.Flags().StringVar(&o.MapPath, "map", "", "signal map, a YAML `FILE`, for logs that are dropped without one")
	cmd.Flags().StringArrayVar(&o.Sources, "interface", nil, "record the `SOURCE` of lull record, such as can0, and show it; may be given several times")
	cmd.Flags().StringVarP(&o.Output, "output", "o", "", "with --interface: record into `FILE`; default: a name of date and time")
	cmd.Flags().StringVar(&o.MarksPath, "marks", "", "with --interface: write what is marked on the page into `FILE`; default: beside the log, its name with .marks")
	cmd.Flags().StringVar(&bitrate, "bitrate", "", "with --interface: show the load as a share of `RATE` in bit/s; default: as the interface is set")
	cmd.Flags().IntVar(&o.Port, "port", 0, "listen on the port `N`; default: any that is free")
	cmd.Flags().Float64Var(&o.Largest, "largest", 64, "refuse drops of more than `GB` at once")
	cmd.Flags().BoolVar(&o.Open, "open", false, "open the page in the browser")
	cmd.Flags().SortFlags = false
	return cmd
}
