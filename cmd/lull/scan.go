package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"

	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/capture"
	"lull/pkg/source"
)

// job is one command line on logs: what to read, by which map, and how.
type job struct {
	c      *console
	quiet  bool
	inputs []source.Input
	failed bool        // some argument could not be read; that was said
	strays []error     // of files in folders that are no logs, not said as --quiet asks
	m      *decode.Map // restricted to --bus
	bus    string
	stamps decode.Stamps
	// told is called now and then with how many bytes more have been read; may be
	// nil.
	told func(more int64)
	// mostEpisodes is of how many pictures are made; with more they end with
	// errNoRoom. 0: of any number.
	mostEpisodes int
}

// newJob checks the arguments and reads the map. It opens no log, except that
// the logs of a folder are looked at to put them in the order of their starts.
func newJob(c *console, f *logFlags, quiet bool, args []string) (*job, error) {
	stamps, err := f.stamps()
	if err != nil {
		return nil, err
	}
	inputs, err := source.Expand(args)
	if err != nil && len(inputs) == 0 {
		return nil, err
	}
	expanding := err
	m, path, err := loadMap(f.mapPath, args)
	if errors.Is(err, errNoMap) {
		// Of a log that does not exist, that is what to say.
		if file, opening := source.Open(inputs[0], strings.NewReader("")); opening != nil {
			return nil, opening
		} else if closing := file.Close(); closing != nil {
			return nil, closing
		}
	}
	if err != nil {
		return nil, err
	}
	if err := notAnInput(c, f.out, path, inputs); err != nil {
		return nil, err
	}
	if expanding != nil {
		report(c.err, expanding)
	}
	j := &job{c: c, quiet: quiet, inputs: inputs, failed: expanding != nil, m: onlyBus(m, f.bus), bus: f.bus, stamps: stamps}
	j.passedOver(args)
	source.SortFolders(j.inputs, j.starts(context.Background()))
	return j, nil
}

// passedOver says which hidden files and backups of the folders given are not read.
func (j *job) passedOver(args []string) {
	const most = 5
	for _, arg := range args {
		names := source.PassedOver(arg)
		if len(names) == 0 {
			continue
		}
		more := ""
		if n := len(names) - most; n > 0 {
			names, more = names[:most], fmt.Sprintf(" and %d more", n)
		}
		j.remark(arg, "hidden files and backups are passed over: "+strings.Join(names, ", ")+more+"; name one to read it")
	}
}

// leftOut says that a log cannot be read. It is no failure where it lies in a folder
// and is no log: a folder may hold other things.
func (j *job) leftOut(in source.Input, err error) (failed bool) {
	var f *failure
	stray := in.Folder != "" && errors.As(err, &f) && f.noLog
	if stray && j.quiet {
		j.strays = append(j.strays, err)
	} else {
		report(j.c.err, err)
	}
	return !stray
}

// nothing ends a command of whose logs none was left: that even a stray one is no log
// is now what to say.
func (j *job) nothing() error {
	for _, err := range j.strays {
		report(j.c.err, err)
	}
	return errReported
}

// facts are what is known of a log's bytes after it was read.
type facts struct {
	info   decode.Info
	sha256 string
	bytes  int64
}

// visitor is what a log's frames are given to.
type visitor struct {
	frame func(*decode.Frame, logReader) error
	// passed takes runs of frames that the filter does not want; nil: frame wants
	// every frame.
	passed func(decode.Passed)
	filter *decode.Filter
	sha256 bool // whether the log's hash is asked for
}

// largeLog is the size in bytes from which on what is found in a log takes so much
// memory that garbage is collected sooner, for a little time.
const largeLog = 2 << 30

// scan reads one log and gives its frames to the visitor. It ends early when the
// visitor fails or the user interrupts.
func (j *job) scan(ctx context.Context, in source.Input, v visitor) (facts, error) {
	var options []source.Option
	if v.sha256 {
		options = append(options, source.WithSHA256())
	}
	file, err := source.Open(in, j.c.in, options...)
	if err != nil {
		return facts{}, err
	}
	defer file.Close()
	if size, known := file.Size(); known && size > largeLog {
		debug.SetGCPercent(60)
	}
	// A log of which nothing is wanted is read in one go: its end is what can be
	// brought about.
	defer context.AfterFunc(ctx, func() { _ = file.Close() })()
	reader, err := readLog(file, form{j.stamps, v.filter})
	if err != nil {
		return facts{}, atLog(in.Name, err)
	}
	progress := newProgress(j.c, j.quiet, in.Name, file)
	defer progress.clear()
	const often = 4096 // frames between two looks at the clock
	blocks, filtered := reader.(passer)
	if filtered {
		defer blocks.Close()
	}
	var at int64 // as was told
	tell := func() {
		if j.told != nil {
			position := file.Position()
			j.told(position - at)
			at = position
		}
	}
	for n := int64(1); reader.Scan(); n++ {
		if f := reader.Frame(); f != nil {
			if err := v.frame(f, reader); err != nil {
				return facts{}, err
			}
		} else if filtered {
			p := blocks.Passed()
			v.passed(p)
			n += p.Count
		}
		if n >= often {
			n = 0
			if err := ctx.Err(); err != nil {
				return facts{}, err
			}
			progress.show()
			tell()
		}
	}
	if err := ctx.Err(); err != nil {
		return facts{}, err
	}
	tell()
	info := reader.Info()
	if err := reader.Err(); errors.Is(err, source.ErrDamaged) && info.Accepted > 0 {
		info.Remarks = append(info.Remarks, damagedRemark(err, &info))
	} else if errors.Is(err, capture.ErrLinkType) { // told only at a pcapng file's end
		return facts{}, atLog(in.Name, err)
	} else if err != nil {
		return facts{}, &failure{where: in.Name, what: fmt.Sprintf("reading failed after line %d: %v", info.Lines, err),
			hint: "check the disk or the connection it comes from", cause: err}
	}
	return facts{info: info, sha256: file.SHA256(), bytes: file.Bytes()}, nil
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

// remarks says on standard error what the reader of a result should know of a
// log.
func (j *job) remarks(name string, info *decode.Info) {
	if j.quiet {
		return
	}
	for _, r := range info.Remarks {
		if r.Code == decode.RemarkRejectedLines && len(r.Places) > 1 {
			// Each reason is counted; the first lines are worth a look.
			j.remark(name, r.Text)
			for _, p := range r.Places {
				j.remark(placeIn(name, p.Line, p.Column), p.Why)
			}
			continue
		}
		where := placeIn(name, r.Line, 0)
		if len(r.Places) > 0 {
			where = placeIn(name, r.Places[0].Line, r.Places[0].Column)
		}
		j.remark(where, r.Text)
	}
	for _, bus := range j.missingBuses(info) {
		j.remark(name, fmt.Sprintf("no frame of the interface %s; this log has %s", bus, words.Interfaces(info)))
	}
}

// placeIn names a line of a log, and its column where there is one.
func placeIn(name string, line, column int64) string {
	switch {
	case line <= 0:
		return name
	case column <= 0:
		return fmt.Sprintf("%s:%d", name, line)
	}
	return fmt.Sprintf("%s:%d:%d", name, line, column)
}

func (j *job) remark(where, text string) {
	if !j.quiet {
		say(j.c.err, where+": "+text)
	}
}

// missingBuses lists the interfaces that the map or --bus names and the log
// does not have.
func (j *job) missingBuses(info *decode.Info) []string {
	var missing []string
	look := func(bus string) {
		if bus != "" && !slices.Contains(info.Interfaces, bus) && !slices.Contains(missing, bus) {
			missing = append(missing, bus)
		}
	}
	if j.bus != "" {
		look(j.bus)
		return missing
	}
	for i := range j.m.Entries {
		look(j.m.Entries[i].Bus)
	}
	return missing
}

// unusable says why a log that could be read has nothing to offer: it holds no
// frame at all.
func unusable(name string, info *decode.Info) error {
	if info.Accepted > 0 {
		return nil
	}
	if info.Rejected == 0 {
		return &failure{where: name, what: "holds no frame", hint: "record it anew, for instance with candump -l"}
	}
	lines := fmt.Sprintf("none of its %d lines is a CAN frame", info.Rejected)
	if info.Rejected == 1 {
		lines = "its only line is no CAN frame"
	}
	f := &failure{where: name, what: lines, noLog: true,
		hint: "lull reads logs as candump writes them, with -l or on the console"}
	if ending := strings.ToLower(filepath.Ext(name)); ending == ".yaml" || ending == ".yml" {
		f.hint = "it has the name of a map; give the log, and this with --map"
	}
	for _, r := range info.Remarks {
		if r.Code == decode.RemarkRejectedLines && len(r.Places) > 0 {
			p := r.Places[0]
			f.where = fmt.Sprintf("%s:%d:%d", name, p.Line, max(p.Column, 1))
			f.what += ": " + p.Why
		}
	}
	return f
}

// emit writes a result: to standard output, or to a file whole or not at all.
func emit(c *console, out string, write func(io.Writer) error) error {
	if out == "" || out == "-" {
		err := write(c.out)
		var system *fs.PathError
		if errors.As(err, &system) && !brokenPipe(err) {
			return &failure{where: "standard output", what: plainError(err), hint: "what was written there is not whole", cause: err}
		}
		return err
	}
	return source.WriteFile(out, write)
}
