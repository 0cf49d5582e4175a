//go:build attack && linux

package attack

import (
	"errors"
	"net"
	"slices"
	"sync"
	"testing"
	"time"

	"lull/cmd/lull/internal/sample/driven"
	"lull/decode"
	"lull/decode/candump"
	"lull/decode/live"
)

// ticking is a car that sends a frame every few milliseconds, numbered from 0. Number
// tells how many had been sent by a moment.
type ticking struct {
	mutex sync.Mutex
	sent  []time.Time
}

func (k *ticking) feed(c net.Conn) {
	w := live.NewWriter(c)
	for n := 0; ; n++ {
		f := tick(n)
		if errors.Join(w.Frame(&f), w.Flush()) != nil {
			return
		}
		k.mutex.Lock()
		k.sent = append(k.sent, time.Now())
		k.mutex.Unlock()
		time.Sleep(4 * time.Millisecond)
	}
}

func tick(n int) decode.Frame {
	return decode.Frame{Bus: "can0", ID: 0x123, Len: 8, Time: driven.CarBegan*1e9 + int64(n)*4e6, Data: [64]byte{byte(n), byte(n >> 8)}}
}

func (k *ticking) number(by time.Time) int {
	k.mutex.Lock()
	defer k.mutex.Unlock()
	n, _ := slices.BinarySearchFunc(k.sent, by, time.Time.Compare)
	return n
}

// ticks is the log of the first n frames.
func ticks(n int) (log []byte) {
	for i := range n {
		f := tick(i)
		log = candump.AppendFrame(log, &f)
	}
	return log
}

// playsTicks is a car that sends so many frames, waits a while and ends.
func playsTicks(t testing.TB, n int, waits time.Duration) string {
	return car(t, plays(func(w *live.Writer) error {
		for i := range n {
			f := tick(i)
			if err := w.Frame(&f); err != nil {
				return err
			}
		}
		if err := w.Flush(); err != nil {
			return err
		}
		time.Sleep(waits)
		return w.End()
	}))
}
