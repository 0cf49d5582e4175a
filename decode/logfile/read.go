package logfile

import (
	"bytes"
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

// Facts describes a log after it has been read.
type Facts struct {
	Info   decode.Info
	SHA256 string
	Bytes  int64
}

// Visitor receives the frames of a log.
type Visitor struct {
	Frame func(*decode.Frame, Reader) error
	// Passed receives the runs of frames that Filter does not want. It may be nil if
	// Filter is nil, as then Frame receives every frame.
	Passed func(decode.Passed)
	Filter *decode.Filter
}

// Options are the options of Read.
type Options struct {
	Stdin  io.Reader // what source.Stdin stands for
	Stamps decode.Stamps
	SHA256 bool // compute the hash of the log
	// Progress, if not nil, is called with the number of bytes read and the size of the
	// file in bytes, which is 0 if it is unknown.
	Progress func(position, size int64)
}

// largeLog is the size in bytes of a log whose results take so much memory that it is
// worth collecting garbage more often, at a small cost in time.
const largeLog = 2 << 30

// Read reads a log and passes its frames to the visitor. It ends early if the visitor
// returns an error or the context ends. If a format cannot be read or reading fails, the
// error is a *failure.Failure; if the file cannot be opened, it is a *source.Error.
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
	// A log without any wanted frames is read in one call of Scan. Closing the file is
	// the way to interrupt it.
	defer context.AfterFunc(ctx, func() { _ = file.Close() })()
	begin, _ := file.Peek(headSize) // an error occurs again when it is read
	head := bytes.Clone(begin)
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
	blocks, filtered := reader.(skipper)
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
	} else if errors.Is(err, capture.ErrLinkType) { // known only at the end of a pcapng file
		return Facts{}, at(in.Name, err)
	} else if err != nil {
		return Facts{}, &failure.Failure{Where: in.Name, What: fmt.Sprintf("reading failed after line %d: %v", info.Lines, err),
			Hint: "check the disk or the connection it comes from", Cause: err}
	}
	if err := strange(in.Name, head, &info); err != nil {
		return Facts{Info: info}, err
	}
	return Facts{Info: info, SHA256: file.SHA256(), Bytes: file.Bytes()}, nil
}

// damagedRemark says how far a damaged packed log was read.
func damagedRemark(err error, info *decode.Info) decode.Remark {
	why := "its packed data is damaged or cut off"
	var e *source.Error
	if errors.As(err, &e) {
		why = e.Why
	}
	return decode.Remark{Code: decode.RemarkPackedDamaged, Count: 1, Line: info.Lines,
		Text: fmt.Sprintf("%s; read up to line %d", why, info.Lines)}
}
