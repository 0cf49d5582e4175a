package scenario

import (
	"runtime"
	"sync"
	"testing"

	"lull/decode/sigmap"
)

// No false alarm: a whole drive of any random car, on any random bus, read by a map that
// fits it, is believed.
func TestAWholeDriveOfAnyCarIsBelieved(t *testing.T) {
	cars := 250
	if testing.Short() {
		cars = 15
	}
	next := make(chan int)
	var wait sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for seed := range next {
				c := follow(Random(int64(seed)))
				b := newBus(uint64(seed), c.nominal)
				if b.noisy {
					c.shake(uint64(seed))
				}
				m, err := sigmap.Parse("map.yaml", []byte(b.m))
				if err != nil {
					t.Errorf("car %d: %v", seed, err)
					continue
				}
				x := &trial{c: c, b: b, m: m}
				for _, d := range x.analyse(b.play(c)).Trust.Doubts {
					t.Errorf("car %d (%s; %s): %s of %q: %+v", seed, c.name, b, d.Code, d.Signal, d.Cause)
				}
			}
		})
	}
	for seed := range cars {
		next <- 1000 + seed
	}
	close(next)
	wait.Wait()
}
