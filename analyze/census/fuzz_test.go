package census

import (
	"bytes"
	"testing"

	"lull/decode/candump"
)

// Whatever a log holds, every frame is in exactly one place of the result, and no
// figure is out of bounds.
func FuzzEveryFrameIsCounted(f *testing.F) {
	f.Add([]byte("(1772442900.000000) can0 1A0#BC02\n(1772442900.010000) can0 1A0#BC03\n(1772442900.020000) can1 1A0#R4\n"))
	f.Add([]byte("(0.000000) can0 20000004#0004000000000000\n(0.500000) can0 12345678#11\n(0.100000) can0 123##5001122\n"))
	f.Add([]byte("  can0  123   [8]  11 22 33 44 55 66 77 88\n  can0  123   [4]  remote request\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		reader := candump.NewReader(bytes.NewReader(text), candump.Options{})
		c := New(Options{Bits: true, Values: true})
		for reader.Scan() {
			c.Add(reader.Frame())
		}
		info := reader.Info()
		r := c.Result(info)
		if r.Frames != info.Accepted || r.ErrorFrames != info.ErrorFrames || r.RemoteFrames != info.RemoteFrames {
			t.Fatalf("%d frames, %d error frames, %d remote frames; the reader has %+v", r.Frames, r.ErrorFrames, r.RemoteFrames, info)
		}
		sum, remote := r.ErrorFrames, int64(0)
		for _, x := range r.IDs {
			sum += x.Count + x.Remote
			remote += x.Remote
			if x.Period < 0 || x.Jitter < 0 || x.HasPeriod && !r.HasTime {
				t.Errorf("%+v", x)
			}
			for _, s := range x.Silences {
				if s.Duration < leastAbsence || s.Start < 0 && len(r.Info.Remarks) == len(info.Remarks) || s.Duration > r.Span && len(r.Info.Remarks) == len(info.Remarks) {
					t.Errorf("%+v in %d ns", s, r.Span)
				}
			}
		}
		for i := range r.IDs {
			for at := range r.IDs[i].Bytes {
				b := &r.IDs[i].Bytes[at]
				if b.Count < 1 || b.Count > r.IDs[i].Count || b.Pairs >= b.Count || b.Changes > b.Pairs || b.Values() < 1 {
					t.Errorf("%+v", b)
				}
			}
		}
		if d := Differ([]*Result{r}, []*Result{r}); len(d.List) > 0 {
			t.Errorf("a log differs from itself: %+v", d.List)
		}
		for _, m := range r.Info.Remarks {
			if m.Code == RemarkLeftOut {
				return
			}
		}
		if sum != r.Frames || remote != r.RemoteFrames {
			t.Errorf("%d frames in rows, %d of them remote; want %d and %d", sum, remote, r.Frames, r.RemoteFrames)
		}
	})
}
