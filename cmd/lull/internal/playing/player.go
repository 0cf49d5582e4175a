// Package playing plays a log, as if the drive happened now, to whoever connects to a
// socket; never to a CAN interface. It analyses nothing. Start with Player.
package playing

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"os"
	"syscall"
	"time"

	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/live"
	"lull/decode/logfile"
	"lull/pkg/source"
)

// Player plays a log to one reader.
type Player struct {
	Address live.Address      // of the socket
	Speed   float64           // 0: without waiting
	Tell    func(text string) // receives what happens

	name   string // of the log
	out    *live.Writer
	frames int64
	began  time.Time
	first  int64 // time of the first frame
	shift  int64 // added to all times
}

func (p *Player) tell(format string, args ...any) {
	p.Tell(fmt.Sprintf(format, args...))
}

// Play waits for a reader and plays the log to it, once. logs must hold exactly one.
func (p *Player) Play(ctx context.Context, logs *measuring.Logs) error {
	in := logs.Inputs[0]
	p.name = in.Name
	// Say that a log cannot be played before waiting for a reader.
	if in.Path != source.Stdin {
		if err := p.try(logs); err != nil {
			return err
		}
	}
	listener, err := p.listen(ctx)
	if err != nil {
		return err
	}
	defer listener.Close()
	p.tell("waiting for a reader; in another window: lull record %s", p.Address)
	defer context.AfterFunc(ctx, func() { listener.Close() })()
	reader, err := listener.Accept()
	if err != nil {
		if ctx.Err() != nil {
			return &words.Failure{Where: p.Address.String(), What: "interrupted before a reader came"}
		}
		return &words.Failure{Where: p.Address.String(), What: err.Error(), Hint: "try again"}
	}
	defer reader.Close()
	defer context.AfterFunc(ctx, func() { reader.Close() })()
	p.tell("playing %s", in.Name)
	p.out = live.NewWriter(reader)
	f, err := logs.Scan(ctx, in, logfile.Visitor{Frame: func(f *decode.Frame, r logfile.Reader) error { return p.frame(ctx, f, r) }})
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
	return logfile.Unusable(in.Name, &f.Info)
}

// errEnough ends the reading after the first frame.
var errEnough = errors.New("enough")

// try reads the log's first frame.
func (p *Player) try(logs *measuring.Logs) error {
	f, err := logs.Scan(context.Background(), logs.Inputs[0], logfile.Visitor{Frame: func(_ *decode.Frame, r logfile.Reader) error {
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
	return logfile.Unusable(logs.Inputs[0].Name, &f.Info)
}

// timed rejects a log without times.
func (p *Player) timed(r logfile.Reader) error {
	if info := r.Info(); info.Stamps == decode.StampsNone {
		return &words.Failure{Where: p.name, What: "its lines have no time stamps, so it cannot be played", Hint: "record with candump -l or candump -t a"}
	}
	return nil
}

// listen opens the socket. One left behind by an earlier player is removed.
func (p *Player) listen(ctx context.Context) (net.Listener, error) {
	a := p.Address
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
		return nil, &words.Failure{Where: a.String(), What: "cannot be listened on: " + words.PlainNetError(err), Hint: "choose another socket", Cause: err}
	}
	return listener, nil
}

// frame plays one frame when it is due.
func (p *Player) frame(ctx context.Context, f *decode.Frame, r logfile.Reader) error {
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
	if p.Speed > 0 {
		due := p.began.Add(time.Duration(float64(f.Time-p.first) / p.Speed))
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

// left returns the failure of a reader that went away.
func (p *Player) left(err error) error {
	if err == nil || err == io.EOF {
		return nil
	}
	return &words.Failure{Where: p.Address.String(), What: fmt.Sprintf("the recorder disconnected after %s", decode.Counted(p.frames, "frame", "frames")), Hint: "play it again"}
}
