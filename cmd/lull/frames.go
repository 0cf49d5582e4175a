package main

import (
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/document"
	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
)

func newFrames(c *console) *cobra.Command {
	flags := logFlags{mapless: true}
	var bitrate string
	var only, against []string
	cmd := &cobra.Command{
		Use:   "frames LOG... [--against LOG...]",
		Short: "shows what is on the bus; needs no map",
		Long: "Reads one or more logs and lists every identifier: how many frames, how often and how regularly they come, how long they are, " +
			"which of their bits were ever seen in both states, and when they stayed away. It says in words what errors the interface reported. " +
			"It names what standards name: parameter groups where the bus is one of SAE J1939, the identifiers of ISO 15765-4, and which values modules answered to a scan tool.\n" +
			"What changes when I press the brake? Record one log without touching it and one in which you hold or press it, else alike, and hold them against each other with --against: " +
			"bits that have another value stand first, then bits that change in one log only, identifiers that are in one only, and bytes, or numbers of two bytes, with another range. " +
			"Counters, checksums and what never rests are left out and counted. Each line says where the bits lie in a signal map.\n" +
			"--id shows one identifier byte by byte: least and greatest value, how often it changes, and what it looks like. A checksum is named only where it holds in every frame, " +
			"a counter where at least 49 of 50 frames show it; else nothing is claimed.\n" +
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
			"  lull frames drive.log --id 0x1A0\n" +
			"  lull frames released.log --against pressed.log\n" +
			"  lull frames drive.log --bus can0 -o frames.csv\n" +
			"  lull frames drive.log --format json | jq '.logs[].errors'",
		Annotations: map[string]string{
			sectionFormats: "table: for a person; as wide as the terminal, or COLUMNS, or 80. NO_COLOR switches colour off.\n" +
				"csv: one row an identifier: bus,id,extended,fd,count,remote,lengths,period,jitter,changing,silences and name; before them log where there are several logs. " +
				"Lists within a cell are separated by blanks; a silence is START+DURATION; times in s. With --id one row a byte, with --against one row a difference.\n" +
				"json: the same keys, with what was seen in each byte, and what holds for the whole log; times are null where the log has none.",
			sectionExit: plainExitText,
		},
		Args: wants(1, -1, "the log"),
	}
	flags.outFlags.register(cmd, formatTable, formatCSV, formatJSON)
	cmd.Flags().StringVar(&bitrate, "bitrate", "", "show the load as a share of `RATE` in bit/s, such as 500000 or 500k")
	cmd.Flags().StringArrayVar(&only, "id", nil, "show the identifier `ID`, such as 0x1A0, byte by byte; may be given several times")
	cmd.Flags().StringArrayVar(&against, "against", nil, "show what differs in these `LOG`s, up to the next flag")
	cmd.Flags().StringVar(&flags.bus, "bus", "", "count only frames of the interface `NAME`")
	flags.registerStamps(cmd)
	complete(cmd, "id", nil)
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
		if err := named("--against", against); err != nil {
			return err
		}
		if err := twoSides(args, against); err != nil {
			return err
		}
		counting := measuring.Counting{Bitrate: rate, Values: format == formatJSON || len(only) > 0}
		for _, text := range only {
			id, err := parseID(text)
			if err != nil {
				return err
			}
			counting.Only = append(counting.Only, id)
		}
		logs, err := newLogs(cmd, c, &flags, args)
		if err != nil {
			return err
		}
		var frames *words.Frames
		var failed bool
		if len(against) > 0 {
			var other *measuring.Logs
			if other, err = newLogs(cmd, c, &flags, against); err != nil {
				return err
			}
			frames, failed, err = measuring.FramesAgainst(cmd.Context(), logs, other, counting)
		} else {
			frames, failed, err = logs.Frames(cmd.Context(), counting)
		}
		if err != nil {
			return err
		}
		err = emit(c, flags.out, func(w io.Writer) error {
			switch {
			case format == formatCSV && frames.Differences != nil:
				return document.WriteDifferencesCSV(w, frames)
			case format == formatCSV && len(frames.Only) > 0:
				return document.WriteBytesCSV(w, frames)
			case format == formatCSV:
				return document.WriteFramesCSV(w, frames)
			case format == formatJSON:
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

// parseID reads an identifier as lull writes them. One of more than three digits has 29
// bits.
func parseID(s string) (words.WantedID, error) {
	digits, marked := strings.CutPrefix(strings.ToLower(s), "0x")
	id, err := strconv.ParseUint(digits, 16, 32)
	const hint = "give it as the table does, such as 0x1A0 or 0x18FEF100"
	switch {
	case err != nil || id > 0x1FFFFFFF || strings.Contains(digits, "_"):
		return words.WantedID{}, words.Misused(hint, "--id %s: no identifier of CAN", s)
	case !marked && strings.Trim(digits, "0123456789") == "":
		// 100 may be meant either way.
		return words.WantedID{}, words.Misused("write 0x"+digits+" if it is hexadecimal", "--id %s: it is not clear which identifier is meant", s)
	}
	return words.WantedID{ID: uint32(id), Long: len(digits) > 3}, nil
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
		return 0, words.Misused("give bit/s, such as 500000 or 500k", "--bitrate %s: not a bit rate", s)
	case rate < least && factor == 1:
		return 0, words.Misused("it is given in bit/s; did you mean "+s+"k?", "--bitrate %s: too slow for CAN", s)
	case rate < least || rate > most:
		return 0, words.Misused("give bit/s, such as 500000 or 500k", "--bitrate %s: not a bit rate of CAN", s)
	}
	return rate, nil
}
