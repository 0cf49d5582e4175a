package main

import (
	"os"

	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/recording"
)

func newRecord(c *console) *cobra.Command {
	o := recording.Options{Version: version(), Screen: c.screen()}
	var bitrate string
	cmd := &cobra.Command{
		Use:   "record SOURCE...",
		Short: "records a drive and shows every episode as it ends",
		Long: "Writes a log in candump's form from live CAN interfaces, all of them into one file, and sends nothing to any bus. With a map it shows each " +
			"episode, standstill and finding as soon as it is known, says within ten seconds what is missing, and at the end (Ctrl-C) prints what lull episodes prints. " +
			"The same frames give the same result live and from the log. Episodes and standstills are counted apart: each line says which of the two it is, " +
			"with the number that lull episodes or lull standstills gives it.\n" +
			"What was recorded is on the disk within a second, whatever happens then; the file only grows, and none is ever written over, nor recorded into by two. " +
			"An interface that goes away is waited for.\n" +
			"A car without a map is recorded too; nothing is measured then. With --marks what is done in the car is marked by keys, for lull draft, which makes a map of the log and the marks: " +
			"press b when the brake is pressed and again when it is released, l and r for the turn lamps, s for the steering, a for the air conditioning, c for the cancel switch; " +
			"d asks what the dashboard shows (50 km/h, 850 rpm, 90 degC). Where standard input is no terminal, they are read from its lines (b, d 50 km/h). " +
			"Each mark is written as it ends, in seconds from the first frame. What to do in the car: lull draft --how.\n" +
			"SOURCE is an interface of Linux (can0), or the socket of lull replay (unix:PATH, tcp:HOST:PORT). CAN FD and error frames are recorded too, with " +
			"the kernel's time stamps. Set interfaces listen-only: else their controller acknowledges frames, and with a wrong bit rate disturbs the bus.",
		Example: "  lull record can0 --map car.yaml\n" +
			"  lull record can0 -o drive.log --marks drive.marks\n" +
			"  lull record can0 can1 --map car.yaml -o drive.log.zst\n" +
			"  lull record unix:car.sock --map map.yaml",
		Annotations: map[string]string{
			sectionFormats: "The log: candump's log form with microseconds; packed by zstd where the name ends in .zst, readable also where it is cut off. " +
				"Left out: lull-YYYY-MM-DD_HHMMSS.log here. -o - writes it to standard output, and what is shown to standard error.\n" +
				"On a terminal what is on the bus and what the signals say is shown below the lines; elsewhere a line every ten seconds.",
			sectionExit:     exitText,
			sectionCautions: "Two people in the car: one drives, one looks at the screen.\n" + cautionText,
		},
		Args: wants(1, -1, "the source"),
	}
	cmd.Flags().StringVarP(&o.Output, "output", "o", "", "record into `FILE`; default: a name of date and time")
	cmd.Flags().StringVar(&o.MapPath, "map", "", "signal map, a YAML `FILE`; default: map.yaml beside the log, if there is one")
	cmd.Flags().StringVar(&o.MarksPath, "marks", "", "write what is marked by hand while recording into `FILE`, for lull draft")
	cmd.Flags().StringVar(&o.Bus, "bus", "", "decode only frames of the interface `NAME`; all are recorded")
	cmd.Flags().StringVar(&bitrate, "bitrate", "", "show the load as a share of `RATE` in bit/s, such as 500k; default: as the interface is set")
	cmd.Flags().BoolVar(&o.Check, "check", false, "end with status 3 where a limit of the map is broken or a log cannot be used")
	cmd.Flags().SortFlags = false
	cmd.RunE = func(cmd *cobra.Command, args []string) (err error) {
		if o.Bitrate, err = parseBitrate(bitrate); err != nil {
			return err
		}
		o.Sources = args
		if o.MarksPath != "" {
			o.Keys = c.keys()
		}
		o.Quiet, _ = cmd.Flags().GetBool("quiet")
		r, err := recording.Start(cmd.Context(), o)
		if err != nil {
			return err
		}
		return r.Run(cmd.Context())
	}
	return cmd
}

// keys returns where a recording is marked.
func (c *console) keys() recording.Keys {
	k := recording.Keys{In: c.in}
	if c.inTerminal {
		k.Single = func() (func(), error) { return recording.SingleKeys(int(os.Stdin.Fd())) }
	}
	return k
}

// screen returns where a recording is shown.
func (c *console) screen() recording.Screen {
	return recording.Screen{Out: c.out, Err: c.err, Drawn: c.errTerminal && !c.dumb, Style: c.style()}
}
