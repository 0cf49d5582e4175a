package measuring

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"

	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/capture"
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
	SHA256 bool // whether the log's hash is asked for
}

// largeLog is the size in bytes from which on what is found in a log takes so much
// memory that garbage is collected sooner, for a little time.
const largeLog = 2 << 30

// Scan reads one log and gives its frames to the visitor. It ends early when the
// visitor fails or the context ends.
func (l *Logs) Scan(ctx context.Context, in source.Input, v Visitor) (Facts, error) {
	var options []source.Option
	if v.SHA256 {
		options = append(options, source.WithSHA256())
	}
	file, err := source.Open(in, l.Stdin, options...)
	if err != nil {
		return Facts{}, err
	}
	defer file.Close()
	if size, known := file.Size(); known && size > largeLog {
		debug.SetGCPercent(60)
	}
	// A log of which nothing is wanted is read in one go: its end is what can be
	// brought about.
	defer context.AfterFunc(ctx, func() { _ = file.Close() })()
	reader, err := readLog(file, l.Stamps, v.Filter)
	if err != nil {
		return Facts{}, atLog(in.Name, err)
	}
	progress := l.progress(in.Name, file)
	progress.tell()
	defer progress.end()
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
			progress.at(file.Position())
		}
	}
	if err := ctx.Err(); err != nil {
		return Facts{}, err
	}
	progress.Position = file.Position()
	info := reader.Info()
	if err := reader.Err(); errors.Is(err, source.ErrDamaged) && info.Accepted > 0 {
		info.Remarks = append(info.Remarks, damagedRemark(err, &info))
	} else if errors.Is(err, capture.ErrLinkType) { // told only at a pcapng file's end
		return Facts{}, atLog(in.Name, err)
	} else if err != nil {
		return Facts{}, &words.Failure{Where: in.Name, What: fmt.Sprintf("reading failed after line %d: %v", info.Lines, err),
			Hint: "check the disk or the connection it comes from", Cause: err}
	}
	return Facts{Info: info, SHA256: file.SHA256(), Bytes: file.Bytes()}, nil
}

// progress tells how far the reading of one log is.
type progress struct {
	to func(Progress)
	Progress
}

func (l *Logs) progress(name string, file *source.Reader) *progress {
	size, _ := file.Size()
	return &progress{l.Progress, Progress{Log: name, Size: size, Again: l.again}}
}

func (p *progress) at(position int64) {
	p.Position = position
	p.tell()
}

func (p *progress) tell() {
	if p.to != nil {
		p.to(p.Progress)
	}
}

// end tells that nothing more is read.
func (p *progress) end() {
	p.Done = true
	p.tell()
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
