package damage

import (
	"bytes"
	"encoding/binary"
	"math/rand/v2"
	"testing"
)

// Damage does not change its input, is the same for the same random numbers, and is of
// every kind: shorter, longer, and the same length with other bytes.
func TestDamageIsOfEveryKindAndLeavesTheDataAlone(t *testing.T) {
	data := make([]byte, 500)
	for i := range data {
		data[i] = byte(i)%255 + 1 // never 0
	}
	kept := bytes.Clone(data)
	first, second := rand.New(rand.NewPCG(1, 2)), rand.New(rand.NewPCG(1, 2))
	shorter, longer, other, cleared := 0, 0, 0, 0
	for range 500 {
		b := Of(first, data)
		if !bytes.Equal(b, Of(second, data)) {
			t.Fatal("the same random numbers gave different damage")
		}
		if !bytes.Equal(data, kept) {
			t.Fatal("the data itself was damaged")
		}
		switch {
		case len(b) < len(data):
			shorter++
		case len(b) > len(data):
			longer++
		case !bytes.Equal(b, data):
			other++
		}
		if bytes.Contains(b, make([]byte, 8)) {
			cleared++
		}
	}
	for what, n := range map[string]int{"shorter": shorter, "longer": longer, "other": other, "cleared": cleared} {
		if n < 20 {
			t.Errorf("%d of 500 are %s", n, what)
		}
	}
	if b := Of(first, nil); len(b) != 0 {
		t.Errorf("nothing became %v", b)
	}
}

// A length is four bytes at an offset divisible by four; numbers of every size occur.
func TestAChangedLengthIsOneNumberOfAnySize(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	small, large := 0, 0
	for range 500 {
		data := []byte{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}
		b := Length(random, data)
		if !bytes.Equal(data, bytes.Repeat([]byte{0xFF}, 9)) {
			t.Fatal("the data itself was damaged")
		}
		first, second := b[:4], b[4:8]
		if len(b) != 9 || b[8] != 0xFF || !bytes.Equal(first, data[:4]) && !bytes.Equal(second, data[:4]) {
			t.Fatalf("%v", b)
		}
		switch n := min(binary.LittleEndian.Uint32(first), binary.LittleEndian.Uint32(second)); {
		case n < 1<<10:
			small++
		case n > 1<<24:
			large++
		}
	}
	if small < 50 || large < 50 {
		t.Errorf("%d of 500 are small and %d large", small, large)
	}
	if b := Length(random, []byte{1, 2, 3}); !bytes.Equal(b, []byte{1, 2, 3}) {
		t.Errorf("data too short for a length became %v", b)
	}
}
