package draft

import "testing"

// The ratio of charging to rest is one of volts: with an offset the raw values have another.
// What no usual factor makes a voltage of may have lowest bits too many.
func TestAVoltageIsKnownByItsVolts(t *testing.T) {
	d := dips{field: field{n: 16}, before: 12551 * 4, running: 14040 * 4}
	if x := d.shortened(); x.field.n != 14 {
		t.Errorf("%d bits, want 14", x.field.n)
	}
	d = dips{field: field{n: 8}, before: 151, running: 182}
	if factor, offset, cost := d.scaling(); factor != 0.05 || offset != 5 || cost > mostVoltageCost {
		t.Errorf("x %g %+g, off by %.1f; want x 0.05 +5", factor, offset, cost)
	}
}
