package main

import (
	"strconv"

	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/playing"
	"lull/cmd/lull/internal/words"
	"lull/decode/live"
	"lull/pkg/source"
)

func newReplay(c *console) *cobra.Command {
	var flags logFlags
	var to, speed string
	cmd := &cobra.Command{
		Use:   "replay LOG --to unix:PATH|tcp:ADDR",
		Short: "plays a log to a socket, for training without a car",
		Long: "Plays a log as if the drive happened now, to whoever connects: lull record reads it as it reads a car. It waits for a reader, plays " +
			"the log once, and ends. Nothing of the log is lost on the way, be it CAN FD, error frames, interfaces or times; a log " +
			"whose stamps are no dates begins at the time at which it is played.\n" +
			"It plays to sockets alone and refuses a CAN interface: what is played must never reach a vehicle.\n" +
			"LOG is a file or - for standard input.",
		Example: "  lull replay town.log --to unix:car.sock &\n" +
			"  lull record unix:car.sock --map map.yaml\n" +
			"  lull replay town.log --to tcp:5555 --speed 20",
		Annotations: map[string]string{
			sectionExit: "0: done.\n1: it could not be done, or the reader left before the log's end; standard error says what, where and what to do.\n2: wrong use.",
		},
		Args: wants(1, 1, "the log"),
	}
	cmd.Flags().StringVar(&to, "to", "", "play to the socket `ADDRESS`: unix:PATH, tcp:HOST:PORT, or tcp:PORT for this machine alone")
	cmd.Flags().StringVar(&speed, "speed", "1", "play `X` times as fast as it was; 0: as fast as it is read")
	flags.registerStamps(cmd)
	cmd.Flags().SortFlags = false
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		if to == "" {
			return words.Misused("name a socket: --to unix:PATH or --to tcp:PORT", "lull replay: --to is missing")
		}
		address, err := live.ParseAddress(to)
		if err != nil {
			return words.Misused("name a socket: --to unix:PATH or --to tcp:PORT", "--to %s: no socket", to)
		}
		if address.Network == live.CAN {
			return words.Misused("name a socket: --to unix:PATH or --to tcp:PORT", "--to %s: a log is played to a socket, never to a CAN interface", to)
		}
		factor, err := strconv.ParseFloat(speed, 64)
		if err != nil || !(factor >= 0) || factor > 1e6 {
			return words.Misused("give a number such as 1 or 20, or 0 for as fast as it is read", "--speed %s: no speed", speed)
		}
		stamps, err := flags.stamps()
		if err != nil {
			return err
		}
		inputs, err := source.Expand(args)
		if err != nil {
			return err
		}
		if len(inputs) != 1 {
			return words.Misused("name one log", "%s: a folder of several logs", args[0])
		}
		quiet, _ := cmd.Flags().GetBool("quiet")
		p := &playing.Player{Address: address, Speed: factor, Tell: func(text string) {
			if !quiet {
				say(c.err, text)
			}
		}}
		return p.Play(cmd.Context(), &measuring.Logs{Order: c.order(true, measuring.Order{Stamps: stamps}), Inputs: inputs})
	}
	return cmd
}
