package logfile

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime/debug"

	"lull/decode"
	"lull/decode/capture"
	"lull/pkg/failure"
	"lull/pkg/source"
)

// Facts are what is known of a log's bytes after it was read.
type Facts struct {
	Info   decode.Info
	SHA256 string
	Bytes  int64
}

// Visitor is what a log's frames are given to.
type Visitor struct {
	Frame func(*decode.Frame, Reader) error
	// Passed takes runs of frames that the filter does not want; nil: Frame wants
	// every frame.
	Passed func(decode.Passed)
	Filter *decode.Filter
}

// Options is how a log is read.
type Options struct {
	Stdin  io.Reader // what source.Stdin stands for
	Stamps decode.Stamps
	SHA256 bool // the log's hash is asked for
	// Progress is told how far the reading is, in bytes of the file; size is 0 where it
	// is not known. nil: nobody asks.
	Progress func(position, size int64)
}

// largeLog is the size in bytes from which on what is found in a log takes so much
// memory that garbage is collected sooner, for a little time.
const largeLog = 2 << 30

// Read reads one log and gives its frames to the visitor. It ends early when the visitor
// fails or the context ends. A log that cannot be read is a *failure.Failure.
func Read(ctx context.Context, in source.Input, o Options, v Visitor) (Facts, error) {
	var options []source.Option
	if o.SHA256 {
		options = append(options, source.WithSHA256())
	}
	file, err := source.Open(in, o.Stdin, options...)
	if err != nil {
		return Facts{}, err
	}
	defer file.Close()
	size, known := file.Size()
	if known && size > largeLog {
		debug.SetGCPercent(60)
	}
	// A log of which nothing is wanted is read in one go: its end is what can be
	// brought about.
	defer context.AfterFunc(ctx, func() { _ = file.Close() })()
	reader, err := Open(file, o.Stamps, v.Filter)
	if err != nil {
		return Facts{}, at(in.Name, err)
	}
	progress := func(position int64) {
		if o.Progress != nil {
			o.Progress(position, size)
		}
	}
	progress(0)
	const often = 4096 // frames between two looks at the clock
	blocks, filtered := reader.(passer)
	if filtered {
		defer blocks.Close()
	}
	for n := int64(1); reader.Scan(); n++ {
		if f := reader.Frame(); f != nil {
			if err := v.Frame(f, reader); err != nil {
				return Facts{}, err
			}
		} else if filtered {
			p := blocks.Passed()
			v.Passed(p)
			n += p.Count
		}
		if n >= often {
			n = 0
			if err := ctx.Err(); err != nil {
				return Facts{}, err
			}
			progress(file.Position())
		}
	}
	if err := ctx.Err(); err != nil {
		return Facts{}, err
	}
	progress(file.Position())
	info := reader.Info()
	if err := reader.Err(); errors.Is(err, source.ErrDamaged) && info.Accepted > 0 {
		info.Remarks = append(info.Remarks, damagedRemark(err, &info))
	} else if errors.Is(err, capture.ErrLinkType) { // told only at a pcapng file's end
		return Facts{}, at(in.Name, err)
	} else if err != nil {
		return Facts{}, &failure.Failure{Where: in.Name, What: fmt.Sprintf("reading failed after line %d: %v", info.Lines, err),
			Hint: "check the disk or the connection it comes from", Cause: err}
	}
	return Facts{Info: info, SHA256: file.SHA256(), Bytes: file.Bytes()}, nil
}

// damagedRemark says that a packed log is read only up to where it is whole.
func damagedRemark(err error, info *decode.Info) decode.Remark {
	why := "its packing is damaged or cut off"
	var e *source.Error
	if errors.As(err, &e) {
		why = e.Why
	}
	return decode.Remark{Code: decode.RemarkPackedDamaged, Count: 1, Line: info.Lines,
		Text: fmt.Sprintf("%s; read up to line %d", why, info.Lines)}
}
