package decode

import (
	"slices"
	"testing"
)

func TestAFieldsBitsRunAsTheBusSendsThem(t *testing.T) {
	for _, c := range []struct {
		signal Signal
		want   []int
		last   int
	}{
		{Signal{Start: 6, Length: 4}, []int{6, 7, 8, 9}, 1},
		{Signal{Start: 15, Length: 1}, []int{15}, 1},
		{Signal{Start: 15, Length: 1, BigEndian: true}, []int{15}, 1},
		// Big endian from bit 1 of byte 0: bits 1 and 0 of byte 0 are the most
		// significant, then 7 and 6 of byte 1.
		{Signal{Start: 1, Length: 4, BigEndian: true}, []int{14, 15, 0, 1}, 1},
		{Signal{Start: 8, Length: 9, BigEndian: true}, []int{16, 17, 18, 19, 20, 21, 22, 23, 8}, 2},
	} {
		if got := c.signal.Bits(); !slices.Equal(got, c.want) {
			t.Errorf("%+v: %v, want %v", c.signal, got, c.want)
		}
		if got := c.signal.LastByte(); got != c.last {
			t.Errorf("%+v: last byte %d, want %d", c.signal, got, c.last)
		}
	}
}
