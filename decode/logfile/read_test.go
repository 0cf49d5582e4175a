package logfile

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"lull/decode"
	"lull/pkg/failure"
	"lull/pkg/source"
)

const line = "(1700000000.000000) can0 123#00\n"

// frames reads what stdin gives, and calls each, if any, for every frame.
func frames(ctx context.Context, stdin io.Reader, each func(n int)) (n int, facts Facts, err error) {
	facts, err = Read(ctx, source.Input{Path: source.Stdin, Name: "log"}, Options{Stdin: stdin}, Visitor{Frame: func(*decode.Frame, Reader) error {
		n++
		if each != nil {
			each(n)
		}
		return nil
	}})
	return n, facts, err
}

func TestALongLogIsReadToItsEnd(t *testing.T) {
	n, facts, err := frames(context.Background(), strings.NewReader(strings.Repeat(line, 10_000)), nil)
	if err != nil || n != 10_000 || facts.Info.Accepted != 10_000 {
		t.Errorf("%d frames, %+v, %v", n, facts.Info, err)
	}
}

func TestReadingEndsSoonAfterItIsCalledOff(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	n, _, err := frames(ctx, strings.NewReader(strings.Repeat(line, 100_000)), func(n int) {
		if n == 5000 {
			cancel()
		}
	})
	if !errors.Is(err, context.Canceled) || n < 5000 || n > 10_000 {
		t.Errorf("%d frames, %v", n, err)
	}
}

func TestAConnectionThatBreaksIsToldWithItsPlace(t *testing.T) {
	const after = "; check the disk or the connection it comes from"
	for _, test := range []struct {
		frames int
		want   string
	}{
		{0, "standard input: gone"},
		{1, "log: reading failed after line 1: standard input: gone" + after},
		{100, "log: reading failed after line 100: standard input: gone" + after},
	} {
		begin := strings.NewReader(strings.Repeat(line, test.frames))
		n, _, err := frames(context.Background(), io.MultiReader(begin, iotest.ErrReader(errors.New("gone"))), nil)
		if err == nil || err.Error() != test.want || n != test.frames {
			t.Errorf("%d frames, %v; want %d, %s", n, err, test.frames, test.want)
		}
	}
}

func TestWhatIsNoLogIsToldWithThePlaceWhereItsFirstLineGoesWrong(t *testing.T) {
	_, facts, err := frames(context.Background(), strings.NewReader("\n\ndear diary\nbrake lamp\n"), nil)
	if err != nil {
		t.Fatal(err)
	}
	var f *failure.Failure
	if err := Unusable("log", &facts.Info); !errors.As(err, &f) || f.Where != "log:3:6" {
		t.Errorf("%v", err)
	}
}
