package onelog_test

import (
	"bytes"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze"
	"lull/analyze/onelog"
	"lull/analyze/scenario"
	"lull/analyze/scenario/foreign"
	"lull/decode"
	"lull/decode/sigmap"
	"lull/pkg/oracle"
)

// bothWays measures frames, and panics if putting some of them aside changes the result. That
// it does not is looked at without the race detector, which makes it slow.
func bothWays(m *decode.Map, frames []decode.Frame) *analyze.Result {
	r, all := onelog.NewRun(m), onelog.NewRun(m)
	all.PushAll()
	for i := range frames {
		r.Push(&frames[i])
		if !oracle.RaceDetector {
			all.Push(&frames[i])
		}
	}
	info := decode.Info{Stamps: decode.StampsAbsolute}
	res := r.Finish(info)
	if oracle.RaceDetector {
		return res
	}
	if diff := cmp.Diff(all.Finish(info), res); diff != "" {
		panic("each frame handed on at once (-), some put aside (+): " + diff)
	}
	return res
}

// same pushes frames to two runs, one of which hands on each of them at once, and returns
// the share of frames that the other one put aside.
func same(t *testing.T, rng *rand.Rand, name string, m *decode.Map, play func(func(*decode.Frame) bool)) float64 {
	t.Helper()
	all, quiet := onelog.NewRun(m), onelog.NewRun(m)
	all.PushAll()
	news := onelog.NewNewscast(quiet)
	frames := 0
	play(func(f *decode.Frame) bool {
		all.Push(f)
		quiet.Push(f)
		if frames++; rng.IntN(500) == 0 {
			news.Next() // asking changes nothing
		}
		return true
	})
	info := decode.Info{Stamps: decode.StampsAbsolute}
	if diff := cmp.Diff(all.Finish(info), quiet.Finish(info)); diff != "" {
		t.Fatalf("%s: what is put aside changes the result: %s", name, diff)
	}
	return float64(quiet.Aside()) / float64(frames)
}

// damaged loses, repeats, turns and delays frames of a drive.
func damaged(rng *rand.Rand, play func(func(*decode.Frame) bool)) func(func(*decode.Frame) bool) {
	var frames []decode.Frame
	play(func(f *decode.Frame) bool {
		frames = append(frames, *f)
		return true
	})
	return func(yield func(*decode.Frame) bool) {
		shift := int64(0)
		for i := 0; i < len(frames); i++ {
			f := frames[i]
			switch rng.IntN(3000) {
			case 0:
				i += rng.IntN(400) // a piece is missing
			case 1:
				i = max(0, i-rng.IntN(300)) // and one comes twice
			case 2:
				shift += rng.Int64N(400e6) // the clock leaps
			case 3:
				shift -= rng.Int64N(300e6)
			case 4:
				f.Data[rng.IntN(8)] ^= 1 << rng.IntN(8)
			case 5:
				f.Len = uint8(rng.IntN(9))
			case 6:
				f.Bus = "other"
			case 7:
				f.Flags ^= decode.Remote
			}
			f.Time += shift
			if !yield(&f) {
				return
			}
		}
	}
}

// leastAside is the share of frames that must be put aside, of drives with maps that name
// nearly all of them, so that the test shows something.
var leastAside = map[string]float64{"kept-running.log": 0.85, "slow-to-go-before.log": 0.85, "creeps-late-after.log": 0.85, "truck/yard.log": 0.45}

func TestFramesPutAsideComeToTheSameAsFramesHandedOnAtOnce(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	cars := int64(2)
	if testing.Short() {
		cars = 0
	}
	for _, d := range scenario.Drives() {
		if testing.Short() && leastAside[d.Name] == 0 {
			continue
		}
		m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
		if err != nil {
			t.Fatal(err)
		}
		if share := same(t, rng, d.Name, m, d.Frames); share < leastAside[d.Name] {
			t.Errorf("%s: only %.2f of its frames are put aside", d.Name, share)
		}
		same(t, rng, d.Name+" damaged", m, damaged(rng, d.Frames))
	}
	for kind := range foreign.KindCount {
		for seed := range cars {
			u := foreign.NewUnknown(seed+40, kind)
			m, err := sigmap.Parse(u.Name, bytes.TrimSpace(u.Map))
			if err != nil {
				t.Fatal(err)
			}
			same(t, rng, u.Name, m, u.Play)
			same(t, rng, u.Name+" damaged", m, damaged(rng, u.Play))
		}
	}
}
