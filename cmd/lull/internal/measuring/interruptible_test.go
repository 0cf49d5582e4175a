package measuring

import (
	"bytes"
	"context"
	"errors"
	"io"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestAReadThatWaitsEndsWithTheContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	silent, hold := io.Pipe()
	defer hold.Close()
	r := Interruptible(ctx, silent)
	time.AfterFunc(20*time.Millisecond, cancel)
	if n, err := r.Read(make([]byte, 10)); n != 0 || !errors.Is(err, context.Canceled) {
		t.Errorf("%d, %v", n, err)
	}
	if _, err := r.Read(make([]byte, 10)); !errors.Is(err, context.Canceled) {
		t.Errorf("again: %v", err)
	}
}

func TestAnInterruptibleReaderGivesEveryByte(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		want := rapid.SliceOf(rapid.Byte()).Draw(rt, "bytes")
		r := Interruptible(t.Context(), bytes.NewReader(want))
		var got []byte
		for {
			p := make([]byte, rapid.IntRange(0, 7).Draw(rt, "piece"))
			n, err := r.Read(p)
			got = append(got, p[:n]...)
			if err == io.EOF {
				break
			}
			if err != nil {
				rt.Fatal(err)
			}
		}
		if !bytes.Equal(got, want) {
			rt.Fatalf("%v, want %v", got, want)
		}
	})
}
