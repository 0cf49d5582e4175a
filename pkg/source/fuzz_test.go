package source

import (
	"bytes"
	"errors"
	"io"
	"testing"
	"testing/iotest"
)

// FuzzOpen checks that no input, however packed or damaged, makes reading panic or fail
// in any way other than by refusing the input or reporting damage, and that the result
// does not depend on the pieces in which the input arrives.
func FuzzOpen(f *testing.F) {
	for _, data := range packed(f) {
		f.Add(data)
		f.Add(data[:len(data)-1])
	}
	f.Add([]byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, data []byte) {
		got, err := unpack(t, bytes.NewReader(data))
		again, errAgain := unpack(t, iotest.OneByteReader(bytes.NewReader(data)))
		if !bytes.Equal(got, again) || (err == nil) != (errAgain == nil) {
			t.Errorf("%d bytes, %v; byte by byte %d, %v", len(got), err, len(again), errAgain)
		}
	})
}

func unpack(t *testing.T, in io.Reader) ([]byte, error) {
	r, err := Open(Input{Path: Stdin}, in)
	if err != nil {
		if !errors.Is(err, ErrPacking) {
			t.Errorf("Open returned %v", err)
		}
		return nil, err
	}
	defer r.Close()
	got, err := io.ReadAll(io.LimitReader(r, 1<<20))
	if err != nil && !errors.Is(err, ErrDamaged) {
		t.Errorf("Read returned %v", err)
	}
	return got, err
}
