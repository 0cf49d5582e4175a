package segment

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze/series"
	"lull/pkg/bounds"
)

// dipsOf feeds voltages that come every 10 ms.
func dipsOf(d *dipFinder, volts ...float64) {
	var k series.Track
	for i, v := range volts {
		k.Add(int64(i)*10*bounds.Millisecond, v)
		d.Add(k.All())
	}
}

func TestDips(t *testing.T) {
	ms := func(low, best, high int64) bounds.Instant {
		return bounds.Instant{Low: low * bounds.Millisecond, T: best * bounds.Millisecond, High: high * bounds.Millisecond}
	}
	slow := []float64{12, 11.91, 11.82, 11.73, 11.64, 11.55, 11.46, 11.37, 11.28, 11.19, 11.1}
	tests := []struct {
		name  string
		volts []float64
		want  []bounds.Instant
	}{
		{"a step", []float64{12, 12, 8, 8}, []bounds.Instant{ms(10, 15, 20)}},
		{"just one volt", []float64{12.3, 11.3}, []bounds.Instant{ms(0, 5, 10)}},
		{"less than a volt", []float64{12, 11.01}, nil},
		{"a fall over some samples", []float64{12, 12, 11.8, 11.5, 10.9}, []bounds.Instant{ms(10, 15, 40)}},
		{"a ripple's top before", []float64{12.2, 12, 12.1, 12.1, 9}, []bounds.Instant{ms(0, 35, 40)}},
		{"0.9 V within 100 ms", slow, nil},
		{"1 V within 100 ms", append(slow[:10:10], 11), []bounds.Instant{ms(0, 5, 100)}},
		{"still low", []float64{12, 8, 9, 8, 10, 8.5}, []bounds.Instant{ms(0, 5, 10)}},
		{"not held against what was before it came back", []float64{12, 8, 11.5, 10.9}, []bounds.Instant{ms(0, 5, 10)}},
		{"back and down again", []float64{12, 8, 11.5, 10.4}, []bounds.Instant{ms(0, 5, 10), ms(20, 25, 30)}},
	}
	for _, test := range tests {
		var d dipFinder
		dipsOf(&d, test.volts...)
		if diff := cmp.Diff(test.want, d.dips); diff != "" {
			t.Errorf("%s: %s", test.name, diff)
		}
	}
}

func TestDipsLowForLongMayFallAgain(t *testing.T) {
	var d dipFinder
	volts := []float64{13, 11}
	for range 501 {
		volts = append(volts, 11)
	}
	dipsOf(&d, append(volts, 9)...)
	if n := len(d.dips); n != 2 || d.dips[1].High != int64(len(volts))*10*bounds.Millisecond {
		t.Errorf("%v", d.dips)
	}
}

func TestDipsAreKeptInBoundedMemory(t *testing.T) {
	var d dipFinder
	var volts []float64
	for range 1000 {
		volts = append(volts, 12, 8)
	}
	dipsOf(&d, volts...)
	last := int64(len(volts)-1) * 10 * bounds.Millisecond
	if len(d.dips) != dipsKept || d.dips[dipsKept-1].High != last {
		t.Errorf("%d dips, the last %v", len(d.dips), d.dips[len(d.dips)-1])
	}
	if dip, ok := d.first(last-25*bounds.Millisecond, last); !ok || dip.High != last-20*bounds.Millisecond {
		t.Errorf("first %v, %v", dip, ok)
	}
	if dip, ok := d.first(0, bounds.Second); ok {
		t.Errorf("%v is of the forgotten ones", dip)
	}
	d.reset()
	if _, ok := d.first(0, last); ok {
		t.Error("a dip outlived the reset")
	}
}
