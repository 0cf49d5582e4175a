package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"os"
	"strconv"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/words"
	"lull/decode"
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
	cmd.Flags().StringVar(&flags.stampName, "stamps", "", "read time stamps as `KIND`: absolute, zero (from the log's start) or delta (from line to line); left out: the log decides")
	complete(cmd, "stamps", stampNames)
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
		p := &player{c: c, quiet: quiet, address: address, speed: factor, name: inputs[0].Name}
		logs := &measuring.Logs{Order: c.order(true, measuring.Order{Stamps: stamps}), Inputs: inputs}
		return p.play(cmd.Context(), logs)
	}
	return cmd
}

// player plays a log to one reader.
type player struct {
	c       *console
	quiet   bool
	address live.Address
	speed   float64 // 0: without waiting
	name    string  // of the log

	out    *live.Writer
	frames int64
	began  time.Time
	first  int64 // time of the first frame
	shift  int64 // added to all times
}

func (p *player) tell(format string, args ...any) {
	if !p.quiet {
		say(p.c.err, fmt.Sprintf(format, args...))
	}
}

func (p *player) play(ctx context.Context, j *measuring.Logs) error {
	in := j.Inputs[0]
	// A log that cannot be played is told before anybody waits for it.
	if in.Path != source.Stdin {
		if err := p.try(j); err != nil {
			return err
		}
	}
	listener, err := p.listen(ctx)
	if err != nil {
		return err
	}
	defer listener.Close()
	p.tell("waiting for a reader; in another window: lull record %s", p.address)
	defer context.AfterFunc(ctx, func() { listener.Close() })()
	reader, err := listener.Accept()
	if err != nil {
		if ctx.Err() != nil {
			return &words.Failure{Where: p.address.String(), What: "interrupted before a reader came"}
		}
		return &words.Failure{Where: p.address.String(), What: err.Error(), Hint: "try again"}
	}
	defer reader.Close()
	defer context.AfterFunc(ctx, func() { reader.Close() })()
	p.tell("playing %s", in.Name)
	p.out = live.NewWriter(reader)
	f, err := j.Scan(ctx, in, measuring.Visitor{Frame: func(f *decode.Frame, r measuring.Reader) error { return p.frame(ctx, f, r) }})
	if err == nil {
		err = p.left(p.out.End())
	}
	switch {
	case ctx.Err() != nil:
		return &words.Failure{Where: in.Name, What: fmt.Sprintf("stopped after %s", decode.Counted(p.frames, "frame", "frames"))}
	case err != nil:
		return err
	}
	p.tell("played %s of %s", decode.Counted(f.Info.Accepted, "frame", "frames"), in.Name)
	return measuring.Unusable(in.Name, &f.Info)
}

// errEnough ends the look at a log's first frame.
var errEnough = errors.New("enough")

// try looks at the log's first frame.
func (p *player) try(j *measuring.Logs) error {
	f, err := j.Scan(context.Background(), j.Inputs[0], measuring.Visitor{Frame: func(_ *decode.Frame, r measuring.Reader) error {
		if err := p.timed(r); err != nil {
			return err
		}
		return errEnough
	}})
	switch {
	case errors.Is(err, errEnough):
		return nil
	case err != nil:
		return err
	}
	return measuring.Unusable(j.Inputs[0].Name, &f.Info)
}

// timed refuses a log without times.
func (p *player) timed(r measuring.Reader) error {
	if info := r.Info(); info.Stamps == decode.StampsNone {
		return &words.Failure{Where: p.name, What: "its lines have no time stamps, so it cannot be played", Hint: "record with candump -l or candump -t a"}
	}
	return nil
}

// listen opens the socket. One that a player left behind is taken away.
func (p *player) listen(ctx context.Context) (net.Listener, error) {
	a := p.address
	var lc net.ListenConfig
	listener, err := lc.Listen(ctx, string(a.Network), a.Name)
	if errors.Is(err, syscall.EADDRINUSE) && a.Network == live.Unix {
		info, lost := os.Stat(a.Name)
		stale := lost == nil && info.Mode()&fs.ModeSocket != 0
		if c, dialling := net.Dial("unix", a.Name); dialling == nil {
			c.Close()
			stale = false
		}
		if stale && os.Remove(a.Name) == nil {
			listener, err = lc.Listen(ctx, string(a.Network), a.Name)
		}
	}
	if err != nil {
		return nil, &words.Failure{Where: a.String(), What: "cannot be listened on: " + plainNetError(err), Hint: "choose another socket", Cause: err}
	}
	return listener, nil
}

// plainNetError is what the system says without the address, which stands before
// it already.
func plainNetError(err error) string {
	var system syscall.Errno
	if errors.As(err, &system) {
		return system.Error()
	}
	return err.Error()
}

// frame plays one frame when it is due.
func (p *player) frame(ctx context.Context, f *decode.Frame, r measuring.Reader) error {
	if p.frames == 0 {
		if err := p.timed(r); err != nil {
			return err
		}
		p.began, p.first = time.Now(), f.Time
		if !r.Info().Stamps.Dated() {
			p.shift = p.began.UnixNano()/1000*1000 - f.Time
		}
	}
	p.frames++
	if p.speed > 0 {
		due := p.began.Add(time.Duration(float64(f.Time-p.first) / p.speed))
		if wait := time.Until(due); wait > time.Millisecond {
			if err := p.left(p.out.Flush()); err != nil {
				return err
			}
			select {
			case <-ctx.Done():
				return ctx.Err()
			case <-time.After(wait):
			}
		}
	}
	shifted := *f
	shifted.Time += p.shift
	return p.left(p.out.Frame(&shifted))
}

// left words what it means that the reader cannot be written to.
func (p *player) left(err error) error {
	if err == nil || err == io.EOF {
		return nil
	}
	return &words.Failure{Where: p.address.String(), What: fmt.Sprintf("the reader left after %s", decode.Counted(p.frames, "frame", "frames")), Hint: "play it again"}
}
