package main

import (
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/document"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
)

func newFrames(c *console) *cobra.Command {
	flags := logFlags{mapless: true}
	var bitrate string
	cmd := &cobra.Command{
		Use:   "frames LOG...",
		Short: "shows what is on the bus; needs no map",
		Long: "Reads one or more logs and lists every identifier: how many frames, how often and how regularly they come, how long they are, " +
			"which of their bits were ever seen in both states, and when they stayed away. It says in words what errors the interface reported. " +
			"Begin here with an unknown car: what changes when the brake is pressed is a candidate for the signal map.\n" +
			"An identifier is regular where it came at least eleven times and no more than one in ten of the times between its frames is longer than five periods; its " +
			"period is the median of these times. It is silent where it stays away for more than five periods and at least 100 ms. A time in which no frame " +
			"of any kind comes for more than five of the shortest period and at least 100 ms is a gap of the recording: it is listed by itself and left out of silences.\n" +
			"The load counts every bit on the wire, stuff bits, CRC and the pause behind a frame included, over the log's whole span; of several interfaces JSON's load is " +
			"that of the busiest. Error frames are not counted in it. All bits of CAN FD frames count at the rate given, so a payload sent faster makes it an upper bound.\n" +
			"Periods and jitter are exact as long as an identifier shows no more than 1024 different times between frames; beyond, neighbouring times are joined, " +
			"which costs less than 0.2 % of the figure where the times lie within a factor of two of each other.\n" +
			"LOG is a file, a folder (its logs, by start time) or - for standard input.",
		Example: "  lull frames drive.log\n" +
			"  lull frames drive.log --bitrate 500k\n" +
			"  lull frames drive.log --bus can0 -o frames.csv\n" +
			"  lull frames drive.log --format json | jq '.logs[].errors'",
		Annotations: map[string]string{
			sectionFormats: "table: for a person; as wide as the terminal, or COLUMNS, or 80. NO_COLOR switches colour off.\n" +
				"csv: one row an identifier: bus,id,extended,fd,count,remote,lengths,period,jitter,changing,silences; before them log where there are several logs. " +
				"Lists within a cell are separated by blanks; a silence is START+DURATION; times in s.\n" +
				"json: the same keys, with what holds for the whole log; times are null where the log has none.",
			sectionExit: plainExitText,
		},
		Args: wants(1, -1, "the log"),
	}
	flags.outFlags.register(cmd, formatTable, formatCSV, formatJSON)
	cmd.Flags().StringVar(&bitrate, "bitrate", "", "show the load as a share of `RATE` in bit/s, such as 500000 or 500k")
	cmd.Flags().StringVar(&flags.bus, "bus", "", "count only frames of the interface `NAME`")
	flags.registerStamps(cmd)
	cmd.Flags().SortFlags = false
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		format, err := flags.choose()
		if err != nil {
			return err
		}
		rate, err := parseBitrate(bitrate)
		if err != nil {
			return err
		}
		logs, err := newLogs(cmd, c, &flags, args)
		if err != nil {
			return err
		}
		frames, failed, err := logs.Frames(cmd.Context(), rate)
		if err != nil {
			return err
		}
		err = emit(c, flags.out, func(w io.Writer) error {
			switch format {
			case formatCSV:
				return document.WriteFramesCSV(w, frames)
			case formatJSON:
				return document.WriteFramesJSON(w, frames)
			}
			return table.WriteFrames(w, frames, c.styleFor(flags.out))
		})
		if err != nil {
			return err
		}
		return ending(failed, false, nil)
	}
	return cmd
}

// parseBitrate parses a rate in bit/s; it returns 0 for "". CAN does not run below 5
// kbit/s, so a smaller number was meant in kbit/s or Mbit/s.
func parseBitrate(s string) (float64, error) {
	if s == "" {
		return 0, nil
	}
	digits, factor := s, 1.0
	switch s[len(s)-1] {
	case 'k', 'K':
		digits, factor = s[:len(s)-1], 1e3
	case 'M', 'm':
		digits, factor = s[:len(s)-1], 1e6
	}
	v, err := strconv.ParseFloat(digits, 64)
	rate := v * factor
	const least, most = 5e3, 20e6
	switch {
	case err != nil || strings.ContainsAny(digits, "xXpPnNiI_") || !(rate > 0):
		return 0, words.Misused("give bit/s, such as 500000 or 500k", "--bitrate %s: no bit rate", s)
	case rate < least && factor == 1:
		return 0, words.Misused("it is given in bit/s; did you mean "+s+"k?", "--bitrate %s: too slow for CAN", s)
	case rate < least || rate > most:
		return 0, words.Misused("give bit/s, such as 500000 or 500k", "--bitrate %s: no bit rate of CAN", s)
	}
	return rate, nil
}
