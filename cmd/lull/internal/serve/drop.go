package serve

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime/multipart"
	"net/http"
	"os"
	"strconv"
	"syscall"
	"time"

	"lull/decode/sigmap"
	"lull/pkg/source"
)

const (
	mostLogs  = 200     // of one drop
	mostMap   = 1 << 20 // bytes; sigmap says what is wrong with larger ones
	mostField = 4 << 10
	mostName  = 255

	slowest = time.Minute // that a body may stand still
	reserve = 512 << 20   // bytes that drops leave free on the disk
)

// trouble is what the user is told when something cannot be done.
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

// intake is a drop as it came.
type intake struct {
	files   *folder
	logs    []dropped
	mapName string
	mapText []byte // nil: none
	typed   bool   // the map is the text of the page
	again   string // the measurement whose logs are to be measured again
	with    string // the measurement to hold the logs against
	side    string // before or after: what the logs are of
	live    bool   // the log is the one that was recorded meanwhile
}

// drop takes logs and a map, measures them and says where the result is. It is the
// forms' and the script's way in; only the script is told how far it is.
func (s *Server) drop(w http.ResponseWriter, r *http.Request) {
	in := &intake{}
	defer func() {
		if in.files != nil {
			s.store.release(in.files)
		}
	}()
	if err := s.receive(w, r, in); err != nil {
		s.finish(w, r, newTeller(w, r), "", err)
		return
	}
	t := newTeller(w, r)
	m, err := s.measure(r.Context(), in, t)
	if err != nil {
		s.finish(w, r, t, "", err)
		return
	}
	at := s.base() + "/drives/" + m.id
	switch {
	case in.with == "" || m.side == nil:
	case in.side == "after":
		at += "?before=" + in.with
	default:
		at = s.base() + "/drives/" + in.with + "?before=" + m.id
	}
	s.finish(w, r, t, at, nil)
}

// receive reads a drop, its logs into files.
func (s *Server) receive(w http.ResponseWriter, r *http.Request, in *intake) error {
	if r.ContentLength > s.largest {
		return s.tooLarge()
	}
	for free := int64(0); ; {
		var err error
		if free, err = s.work.Free(s.store.root); err != nil || free >= r.ContentLength+reserve {
			break
		}
		if !s.store.makeRoom() {
			return &trouble{http.StatusInsufficientStorage, fmt.Sprintf("the disk has %d MB left, which is too little for this drop", free/1e6),
				"make room, or measure the log where it lies with lull episodes"}
		}
	}
	control := http.NewResponseController(w)
	body := http.MaxBytesReader(w, &patient{r.Body, control}, s.largest)
	defer control.SetReadDeadline(time.Time{}) // the connection is watched on, for its end
	r.Body = body
	parts, err := r.MultipartReader()
	if err != nil {
		return &trouble{http.StatusBadRequest, "that is no drop of files", "use the page's own form"}
	}
	if in.files, err = s.store.folder(); err != nil {
		return noRoom(err)
	}
	for {
		part, err := parts.NextPart()
		if err == io.EOF {
			break
		}
		if err == nil {
			err = s.part(in, part)
		}
		if err != nil {
			return s.inbound(err)
		}
	}
	// The end of the body must be seen, or the end of the connection is not.
	if _, err := io.Copy(io.Discard, body); err != nil {
		return s.inbound(err)
	}
	return nil
}

// part takes one part of a drop.
func (s *Server) part(in *intake, part *multipart.Part) error {
	name := part.FileName()
	switch part.FormName() {
	case "log":
		if name == "" {
			return nil // a form in which none was chosen
		}
		if len(in.logs) == mostLogs {
			return &trouble{http.StatusRequestEntityTooLarge, fmt.Sprintf("more than %d logs at once", mostLogs), "drop them in lots"}
		}
		l := dropped{name: name[:min(len(name), mostName)], path: fileIn(in.files, strconv.Itoa(len(in.logs))+".log")}
		file, err := os.OpenFile(l.path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
		if err != nil {
			return noRoom(err)
		}
		l.size, err = io.Copy(file, part)
		if closing := file.Close(); err == nil {
			err = closing
		}
		if err != nil {
			return err
		}
		in.logs = append(in.logs, l)
	case "map":
		if name == "" {
			return nil
		}
		text, err := limited(part, mostMap, "the map")
		if err != nil {
			return err
		}
		if !in.typed {
			in.mapName, in.mapText = name[:min(len(name), mostName)], text
		}
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
		case "recorded":
			in.live = true
		}
	default:
		return &trouble{http.StatusBadRequest, fmt.Sprintf("a field %.40q, which no form of this page has", part.FormName()), ""}
	}
	return nil
}

func limited(r io.Reader, most int64, what string) ([]byte, error) {
	text, err := io.ReadAll(io.LimitReader(r, most+1))
	if err == nil && int64(len(text)) > most {
		return nil, &trouble{http.StatusRequestEntityTooLarge, fmt.Sprintf("%s is larger than %d bytes", what, most), "drop the map as a .yaml file and the logs as they were recorded"}
	}
	return text, err
}

func (s *Server) tooLarge() error {
	return &trouble{http.StatusRequestEntityTooLarge, fmt.Sprintf("more than %d MB at once", s.largest/1e6),
		"start lull serve with a larger --largest, or measure the log where it lies with lull episodes"}
}

// inbound words what went wrong while a drop came in.
func (s *Server) inbound(err error) error {
	var t *trouble
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &t):
		return t
	case errors.As(err, &large):
		return s.tooLarge()
	case errors.Is(err, syscall.ENOSPC), errors.As(err, new(*fs.PathError)):
		return noRoom(err)
	}
	return &trouble{http.StatusBadRequest, "the drop did not come whole", "drop it again"}
}

func noRoom(err error) error {
	return &trouble{http.StatusInsufficientStorage, "the drop cannot be kept: " + cause(err), "make room on the disk of the temporary files"}
}

// cause is what the system says, without a path.
func cause(err error) string {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}

// patient reads a body that may take as long as it likes while it moves.
type patient struct {
	io.ReadCloser
	control *http.ResponseController
}

func (p *patient) Read(b []byte) (int, error) {
	if err := p.control.SetReadDeadline(time.Now().Add(slowest)); err != nil {
		return 0, err
	}
	return p.ReadCloser.Read(b)
}

// measure has a drop measured when its turn has come, and keeps what came of it.
func (s *Server) measure(ctx context.Context, in *intake, t *teller) (*measurement, error) {
	m := &measurement{id: newToken(), at: s.now(), logs: in.logs}
	if err := s.complete(in, m); err != nil {
		return nil, err
	}
	parsed, err := sigmap.Parse(m.mapName, m.mapText)
	if errors.As(err, &m.mistakes) {
		// Kept with its logs, so that the map can be mended on the page.
		s.hold(in, m)
		return m, nil
	}
	if err != nil {
		return nil, &trouble{http.StatusUnprocessableEntity, err.Error(), ""}
	}
	leave, err := s.queue.enter(ctx, t.place)
	if err != nil {
		return nil, err
	}
	defer leave()
	side, remarks, err := s.work.Measure(ctx, parsed, m.inputs(), t.part)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil {
		return nil, &trouble{status: http.StatusUnprocessableEntity, what: err.Error()}
	}
	m.side, m.remarks = side, remarks
	s.hold(in, m)
	return m, nil
}

// complete finds the logs and the map that a drop does not bring itself.
func (s *Server) complete(in *intake, m *measurement) error {
	var earlier *measurement
	for _, id := range []string{in.again, in.with} {
		if id == "" {
			continue
		}
		if earlier = s.store.get(id); earlier == nil {
			return gone()
		}
	}
	if in.again != "" && len(in.logs) == 0 {
		files := s.store.use(earlier)
		if files == nil {
			return gone()
		}
		s.store.release(in.files)
		in.files = files
		m.logs = earlier.logs
	}
	mapName, mapText := s.work.MapName, s.work.Map
	if live := s.work.Live; in.live && live != nil {
		recorded, err := live.log()
		if err != nil {
			return err
		}
		m.logs = []dropped{recorded}
		mapName, mapText = live.about.MapName, live.about.Map
	}
	if len(m.logs) == 0 {
		return &trouble{http.StatusUnprocessableEntity, "no log was dropped", "drop a candump log, packed or not, or a capture of a CAN interface"}
	}
	m.mapName, m.mapText = in.mapName, in.mapText
	switch {
	case in.typed && earlier != nil:
		m.mapName = earlier.mapName
		if bytes.Equal(plainLines(in.mapText), plainLines(earlier.mapText)) {
			m.mapText = earlier.mapText // forms send other line ends
		} else {
			m.mapText = plainLines(in.mapText)
		}
	case in.mapText != nil:
	case earlier != nil:
		m.mapName, m.mapText = earlier.mapName, earlier.mapText
	case mapText != nil:
		m.mapName, m.mapText = mapName, mapText
	default:
		return &trouble{http.StatusUnprocessableEntity, "no map was dropped", "drop the vehicle's signal map, a .yaml file, with the log"}
	}
	if m.mapName == "" {
		m.mapName = "map.yaml"
	}
	return nil
}

func plainLines(text []byte) []byte { return bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n")) }

func gone() error {
	return &trouble{http.StatusGone, "that measurement is no longer kept", "drop its log again"}
}

// hold keeps a measurement, with the drop's share in its files.
func (s *Server) hold(in *intake, m *measurement) {
	m.files, in.files = in.files, nil
	s.store.keep(m)
}

// inputs are the logs as they are read.
func (m *measurement) inputs() []source.Input {
	list := make([]source.Input, len(m.logs))
	for i, l := range m.logs {
		list[i] = source.Input{Path: l.path, Name: l.name}
	}
	return list
}

// demo measures a drive that comes with the program.
func (s *Server) demo(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, mostField)
	name := r.PostFormValue("name")
	in := &intake{}
	var err error
	for _, d := range s.work.Demo {
		if d.Name != name {
			continue
		}
		if in.files, err = s.store.folder(); err != nil {
			s.finish(w, r, newTeller(w, r), "", noRoom(err))
			return
		}
		defer func() {
			if in.files != nil {
				s.store.release(in.files)
			}
		}()
		log := d.Log()
		l := dropped{name: d.LogName, path: fileIn(in.files, "0.log"), size: int64(len(log))}
		if err := os.WriteFile(l.path, log, 0o600); err != nil {
			s.finish(w, r, newTeller(w, r), "", noRoom(err))
			return
		}
		in.logs, in.mapName, in.mapText = []dropped{l}, d.MapName, d.Map()
		t := newTeller(w, r)
		m, err := s.measure(r.Context(), in, t)
		at := ""
		if err == nil {
			at = s.base() + "/drives/" + m.id
		}
		s.finish(w, r, t, at, err)
		return
	}
	s.finish(w, r, newTeller(w, r), "", &trouble{http.StatusNotFound, "there is no such demonstration", ""})
}
