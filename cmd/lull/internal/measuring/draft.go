package measuring

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"

	"lull/analyze/draft"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/dbc"
	"lull/decode/logfile"
	"lull/decode/marks"
	"lull/decode/sigmap"
	"lull/pkg/source"
)

// DraftOrder is what a draft may use besides the logs.
type DraftOrder struct {
	Marks    string // a file of marks on the first log; "": none
	Database string // a DBC file of the bus; "": none
}

// Draft drafts a map from all logs that can be read, taken as drives of one car, and
// measures them by it. The text is the map's, empty if no map could be made. failed says
// that some log could not be read, which was told.
func (l *Logs) Draft(ctx context.Context, o DraftOrder) (d *words.Draft, text []byte, failed bool, err error) {
	defer l.tellHeld()
	var options draft.Options
	if o.Marks != "" {
		if options.Marks, err = marks.Load(o.Marks); err != nil {
			return nil, nil, false, named(o.Marks, err)
		}
	}
	if o.Database != "" {
		if options.Database, err = l.database(o.Database); err != nil {
			return nil, nil, false, err
		}
	}
	clean, err := l.keepWhatPasses(ctx)
	if err != nil {
		return nil, nil, false, err
	}
	defer clean()
	d, read, failed, err := l.drafted(ctx, options)
	if err != nil {
		return nil, nil, failed, err
	}
	text, err = l.measureDraft(ctx, d, read)
	if ctx.Err() != nil {
		return nil, nil, true, ctx.Err()
	}
	return d, text, failed, err
}

// drafted drafts from all logs that can be read, which it returns too.
func (l *Logs) drafted(ctx context.Context, options draft.Options) (d *words.Draft, read []source.Input, failed bool, err error) {
	drafter := draft.New()
	d, failed = &words.Draft{Version: l.Version}, l.Failed
	for _, in := range l.Inputs {
		drafter.NextLog()
		f, err := l.Scan(ctx, in, logfile.Visitor{Frame: func(f *decode.Frame, _ logfile.Reader) error {
			if l.Bus == "" || f.Bus == l.Bus {
				drafter.Push(f)
			}
			return nil
		}})
		if ctx.Err() != nil {
			return nil, nil, true, ctx.Err()
		}
		if err == nil {
			err = logfile.Unusable(in.Name, &f.Info)
		}
		if err != nil {
			failed = l.leftOut(in, err) || failed
			continue
		}
		if f.Info.Stamps == decode.StampsNone {
			drafter.Untimed()
		}
		l.Remarks(in.Name, &f.Info)
		d.Logs = append(d.Logs, in.Name)
		read = append(read, in)
	}
	if len(d.Logs) == 0 {
		return nil, nil, true, l.nothing()
	}
	d.Result = drafter.Draft(options)
	if d.Result.Left > 0 {
		l.Remark(d.Logs[len(d.Logs)-1], fmt.Sprintf("the last %d of %d frames were not used for the draft: what the first ones show is enough", d.Result.Left, d.Result.Frames))
	}
	return d, read, failed, nil
}

// measureDraft measures logs by a drafted map and returns its text, with what it measures.
func (l *Logs) measureDraft(ctx context.Context, d *words.Draft, read []source.Input) ([]byte, error) {
	d.Measured = nil
	text, err := DraftText(d)
	if text == nil || err != nil {
		return nil, err
	}
	m, err := sigmap.Parse(MapName, text)
	if err != nil {
		return nil, fmt.Errorf("the drafted map is not in order; this is a fault of lull: %w", err)
	}
	again := *l
	again.Inputs, again.Map, again.Terse, again.held, again.Failed = read, OnlyBus(m, l.Bus), true, nil, false
	again.Tell = func(Note) {}
	if d.Measured, _, err = again.Report(ctx, false); err != nil {
		d.Measured = nil
	}
	return DraftText(d)
}

// database reads a database of the bus and tells what of it is not sound.
func (l *Logs) database(path string) (*dbc.Database, error) {
	d, err := dbc.Load(path)
	if err != nil {
		return nil, named(path, err)
	}
	l.mistakesOf(path, d)
	return d, nil
}

// mistakesOf tells what of a database is not sound.
func (l *Logs) mistakesOf(path string, d *dbc.Database) {
	const most = 5
	for i, m := range d.Mistakes {
		if i == most {
			l.Remark(path, fmt.Sprintf("%d further places are not sound and were left out or read as far as they are", len(d.Mistakes)-most+d.Further))
			break
		}
		l.Remark(fmt.Sprintf("%s:%d", path, m.Line), m.What)
	}
}

// Into adds to a map what it does not have of a draft, below what stands there, and writes it
// whole or not at all. It returns how many signals were added.
func Into(path string, d *words.Draft) (int, error) {
	data, err := sigmap.Read(path)
	if err != nil {
		return 0, err
	}
	t := d.Map()
	if t == nil {
		return 0, nil
	}
	text, n, err := sigmap.Insert(path, data, t)
	if err != nil || n == 0 {
		return 0, err
	}
	return n, source.WriteFile(path, func(w io.Writer) error { _, err := w.Write(text); return err })
}

// DraftText is the drafted map as it is written, or nil where there is none.
func DraftText(d *words.Draft) ([]byte, error) {
	t := d.Map()
	if t == nil {
		return nil, nil
	}
	var b bytes.Buffer
	err := sigmap.Write(&b, t)
	return b.Bytes(), err
}

// named adds the file to an error that does not name its place.
func named(path string, err error) error {
	var f *words.Failure
	if errors.As(err, &f) {
		return err
	}
	return &words.Failure{Where: path, What: words.PlainError(err), Hint: "check the name", Cause: err}
}
