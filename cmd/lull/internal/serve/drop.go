package serve

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
	"unicode/utf8"

	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/words"
)

const (
	mostLogs  = 200           // of one drop
	mostParts = mostLogs + 20 // including the map and the fields
	mostMap   = 1 << 20       // bytes; sigmap says what is wrong with larger ones
	mostMarks = 256 << 10
	mostDBC   = 16 << 20
	mostField = 4 << 10
	mostName  = 255

	lookEvery = 16 << 20        // bytes between two checks of the free space
	linger    = 2 * time.Second // how long a body is still read after it was refused
)

// trouble is an error as the user is told it.
type trouble struct {
	status     int
	what, hint string
}

func (t *trouble) Error() string {
	if t.hint == "" {
		return t.what
	}
	return t.what + "; " + t.hint
}

// intake is a drop as received.
type intake struct {
	files   *folder
	logs    []dropped
	mapName string
	mapText []byte            // nil: none
	beside  *measuring.Beside // what came for a draft
	unsound []string          // why more of that cannot be used
	typed   bool              // the map was edited on the page
	again   string            // the measurement whose logs to measure again
	with    string            // the measurement to compare with
	side    string            // before or after: what the logs are of
	live    bool              // the log is the one recorded by this server
}

// drop takes logs and a map, from a form or from the script.
func (s *Server) drop(w http.ResponseWriter, r *http.Request) { s.take(w, r, s.receive) }

// demo takes a drive that comes with the program.
func (s *Server) demo(w http.ResponseWriter, r *http.Request) { s.take(w, r, s.demonstrate) }

// receiver reads a request into an intake.
type receiver func(http.ResponseWriter, *http.Request, *intake) error

// take receives and measures a drop, and says where the result is, or why there is none.
// Only the script is told the progress.
func (s *Server) take(w http.ResponseWriter, r *http.Request, receive receiver) {
	t, body := s.newTeller(w, r), r.Body
	at, err := s.taken(w, r, t, receive)
	s.hangUp(w, r, t, at, err, body)
}

// hangUp is finish for a request whose body may not have been read to its end.
func (s *Server) hangUp(w http.ResponseWriter, r *http.Request, t *teller, at string, err error, body io.Reader) {
	if err != nil {
		// The rest of the body is not a request, and the answer does not wait for it.
		w.Header().Set("Connection", "close")
	}
	s.finish(w, r, t, at, err)
	if err != nil {
		// A browser reads the answer only after it has sent everything, and not at all if
		// the connection breaks before.
		control := http.NewResponseController(w)
		_ = control.Flush()
		_ = control.SetReadDeadline(time.Now().Add(min(linger, s.slowest)))
		_, _ = io.Copy(io.Discard, body)
	}
}

// taken receives and measures a drop. What is not kept of it is gone when taken returns.
func (s *Server) taken(w http.ResponseWriter, r *http.Request, t *teller, receive receiver) (at string, err error) {
	files, done, err := s.store.begin()
	if err != nil {
		return "", s.inbound(err)
	}
	in := &intake{files: files}
	defer func() {
		if in.files != nil {
			s.store.release(in.files)
		}
		done()
	}()
	if err := receive(w, r, in); err != nil {
		return "", err
	}
	m, err := s.measure(r.Context(), in, t)
	switch {
	case err != nil:
		return "", err
	case in.with == "" || m.side == nil:
		return s.base() + "/drives/" + m.id, nil
	case in.side == "after":
		return s.base() + "/drives/" + m.id + "?before=" + in.with, nil
	}
	return s.base() + "/drives/" + in.with + "?before=" + m.id, nil
}

// receive reads a drop, its logs into files.
func (s *Server) receive(w http.ResponseWriter, r *http.Request, in *intake) error {
	if r.ContentLength > s.largest {
		return s.tooLarge()
	}
	if err := s.room(max(r.ContentLength, 0)); err != nil {
		return err
	}
	return s.parts(w, r, s.largest, func(p *multipart.Part) error { return s.part(in, p) })
}

// parts reads a form part by part, of so many bytes at the most.
func (s *Server) parts(w http.ResponseWriter, r *http.Request, most int64, take func(*multipart.Part) error) error {
	control := http.NewResponseController(w)
	// The end of the server unblocks a pending read.
	defer context.AfterFunc(r.Context(), func() { _ = control.SetReadDeadline(time.Now()) })()
	defer control.SetReadDeadline(time.Time{}) // the connection is still watched for its end
	r.Body = http.MaxBytesReader(w, &patient{r.Body, r.Context(), control, s.late}, most)
	parts, err := r.MultipartReader()
	if err != nil {
		return &trouble{http.StatusBadRequest, "that is no drop of files", "use the page's own form"}
	}
	for n := 0; ; n++ {
		part, err := parts.NextPart()
		if err == io.EOF {
			break
		}
		if err == nil && n == mostParts {
			err = tooMany()
		}
		if err == nil {
			err = take(part)
		}
		if err != nil {
			return s.inbound(err)
		}
	}
	// Unless the body is read to its end, the end of the connection is not noticed.
	_, err = io.Copy(io.Discard, r.Body)
	return s.inbound(err)
}

// room makes sure that so many bytes can be written, if need be by forgetting measurements.
func (s *Server) room(bytes int64) error {
	free, err := s.work.Free(s.store.root)
	if err != nil {
		return nil // the disk itself says when it is full
	}
	if lacks := bytes + s.reserve - free; lacks > 0 && !s.store.makeRoom(lacks) {
		return &trouble{http.StatusInsufficientStorage, fmt.Sprintf("the disk has %d MB left, which is too little for this drop", max(free, 0)/1e6),
			"make room, or measure the log where it lies with lull episodes"}
	}
	return nil
}

// part takes one part of a drop.
func (s *Server) part(in *intake, part *multipart.Part) error {
	name := part.FileName()
	switch part.FormName() {
	case "log":
		if name == "" {
			return nil // a form without a chosen file
		}
		if kind := kindOf(name); kind != "log" { // chosen with the logs
			return s.beyond(in, kind, name, part)
		}
		if len(in.logs) == mostLogs {
			return tooMany()
		}
		return s.save(in, name, part)
	case "marks", "dbc":
		if name == "" {
			return nil
		}
		return s.beyond(in, part.FormName(), name, part)
	case "map":
		if name == "" {
			return nil
		}
		return s.beyond(in, "map", name, part)
	case "maptext":
		text, err := limited(part, mostMap, "the map")
		if err != nil {
			return err
		}
		in.typed, in.mapText = true, text
	case "again", "with", "side", "recorded":
		text, err := limited(part, mostField, "a field")
		if err != nil {
			return err
		}
		switch part.FormName() {
		case "again":
			in.again = string(text)
		case "with":
			in.with = string(text)
		case "side":
			in.side = string(text)
			return nil
		case "recorded":
			in.live = true
			return nil
		}
		if len(text) > 0 && s.store.get(string(text)) == nil {
			return gone() // fail before gigabytes have come
		}
	default:
		return &trouble{http.StatusBadRequest, fmt.Sprintf("a field %.40q, which no form of this page has", part.FormName()), ""}
	}
	return nil
}

// kindOf is what a file is by the ending of its name: a map, marks, dbc or a log.
func kindOf(name string) string {
	switch strings.ToLower(filepath.Ext(name)) {
	case ".yaml", ".yml":
		return "map"
	case ".marks":
		return "marks"
	case ".dbc":
		return "dbc"
	}
	return "log"
}

// beyond takes a file that is no log. What cannot be used of marks and databases is told
// beside the logs, which it must not cost.
func (s *Server) beyond(in *intake, kind, name string, part io.Reader) error {
	name = shortened(name, mostName)
	switch kind {
	case "marks", "dbc":
		most, what := mostOf(kind)
		text, err := limited(part, most, what)
		switch {
		case err != nil:
		case in.beside.Has(kind):
			in.unsound = append(in.unsound, words.Visible(name)+": another one came before it")
		default:
			in.beside, err = (&givenFile{kind, name, text}).beside(in.beside)
		}
		var t *trouble
		if errors.As(err, &t) {
			in.unsound = append(in.unsound, t.Error())
			return nil
		}
		return err
	}
	text, err := limited(part, mostMap, "the map")
	if err == nil && in.mapText == nil { // the first of several counts
		in.mapName, in.mapText = name, text
	}
	return err
}

// save writes a log into a file of the server's own.
func (s *Server) save(in *intake, name string, log io.Reader) error {
	l := dropped{name: in.distinct(shortened(name, mostName)), path: filepath.Join(in.files.path, strconv.Itoa(len(in.logs))+".log")}
	file, err := os.OpenFile(l.path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return s.inbound(err)
	}
	for more := int64(lookEvery); more == lookEvery && err == nil; {
		if err = s.room(lookEvery); err == nil {
			if more, err = io.CopyN(file, log, lookEvery); err == io.EOF {
				err = nil
			}
			in.files.size += more
		}
	}
	if closing := file.Close(); err == nil {
		err = closing
	}
	in.logs = append(in.logs, l)
	return s.inbound(err)
}

// distinct returns a name that no log of this drop has yet.
func (in *intake) distinct(name string) string {
	taken := func(name string) bool {
		return slices.ContainsFunc(in.logs, func(l dropped) bool { return l.name == name })
	}
	one := name
	for n := 2; taken(one); n++ {
		one = fmt.Sprintf("%s (%d)", name, n)
	}
	return one
}

// shortened cuts a name between two characters.
func shortened(name string, most int) string {
	if len(name) <= most {
		return name
	}
	for most > 0 && !utf8.RuneStart(name[most]) {
		most--
	}
	return name[:most]
}

func limited(r io.Reader, most int64, what string) ([]byte, error) {
	text, err := io.ReadAll(io.LimitReader(r, most+1))
	if err == nil && int64(len(text)) > most {
		return nil, &trouble{http.StatusRequestEntityTooLarge, fmt.Sprintf("%s is larger than %d KiB", what, most>>10), "give each file in the field that is for it"}
	}
	return text, err
}

func (s *Server) tooLarge() error {
	return &trouble{http.StatusRequestEntityTooLarge, fmt.Sprintf("more than %v GB at once", float64(s.largest)/1e9),
		"start lull serve with a larger --largest, or measure the log where it lies with lull episodes"}
}

func tooMany() error {
	return &trouble{http.StatusRequestEntityTooLarge, fmt.Sprintf("more than %d logs at once", mostLogs), "drop them in lots"}
}

// inbound returns the trouble for an error while receiving a drop.
func (s *Server) inbound(err error) error {
	var t *trouble
	var large *http.MaxBytesError
	switch {
	case err == nil, errors.Is(err, errClosed), errors.As(err, &t):
		return err
	case errors.As(err, &large):
		return s.tooLarge()
	case errors.Is(err, syscall.ENOSPC), errors.As(err, new(*fs.PathError)):
		return noRoom(err)
	case errors.Is(err, multipart.ErrMessageTooLarge):
		return &trouble{http.StatusRequestEntityTooLarge, "a part of the drop has too many headers", "use the page's own form"}
	case errors.Is(err, os.ErrDeadlineExceeded):
		return &trouble{http.StatusRequestTimeout, "the drop stood still for too long", "drop it again"}
	}
	return &trouble{http.StatusBadRequest, "the drop did not come whole", "drop it again"}
}

func noRoom(err error) error {
	return &trouble{http.StatusInsufficientStorage, "the drop cannot be kept: " + cause(err), "make room on the disk of the temporary files"}
}

// cause returns the system's message, without a path.
func cause(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}

// patient is a body that may take as long as it likes while it makes progress.
type patient struct {
	io.ReadCloser
	ctx     context.Context
	control *http.ResponseController
	late    func() time.Time
}

func (p *patient) Read(b []byte) (int, error) {
	if err := p.control.SetReadDeadline(p.late()); err != nil {
		return 0, err
	}
	if err := p.ctx.Err(); err != nil {
		return 0, err
	}
	return p.ReadCloser.Read(b)
}
