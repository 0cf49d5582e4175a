package serve

import (
	"bytes"
	"context"
	"errors"
	"net/http"
	"os"
	"path/filepath"

	"lull/cmd/lull/internal/measuring"
	"lull/decode/sigmap"
	"lull/pkg/source"
)

// measure has a drop measured when its turn has come, and keeps the result.
func (s *Server) measure(ctx context.Context, in *intake, t *teller) (*measurement, error) {
	m := &measurement{id: newToken(), at: s.now(), logs: in.logs}
	if err := s.complete(in, m); err != nil {
		return nil, err
	}
	if m.mapText == nil {
		s.hold(in, m) // so that a map can be drafted, or dropped after it
		return m, nil
	}
	parsed, err := sigmap.Parse(m.mapName, m.mapText)
	if errors.As(err, &m.mistakes) {
		// Keep it with its logs, so that the map can be mended on the page.
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
	var misfit *measuring.Misfit
	if errors.As(err, &misfit) {
		m.misfit = misfit.Text
		s.hold(in, m)
		return m, nil
	}
	if err != nil {
		return nil, &trouble{status: http.StatusUnprocessableEntity, what: err.Error()}
	}
	m.side, m.remarks = side, remarks
	s.hold(in, m)
	return m, nil
}

// complete fills in the logs and the map that a drop does not bring itself.
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
	if live := s.work.Live; in.live && live != nil {
		recorded, err := live.log()
		if err != nil {
			return err
		}
		m.logs = []dropped{recorded}
		if err := s.marked(in, live.about.Marks); err != nil {
			return err
		}
	}
	if len(m.logs) == 0 {
		return &trouble{http.StatusUnprocessableEntity, "no log was dropped", "drop a candump log, packed or not, or a capture of a CAN interface"}
	}
	m.beside, m.unsound = in.beside, in.unsound
	if in.again != "" && m.beside == nil {
		m.beside = earlier.beside
	}
	m.mapName, m.mapText = in.mapName, in.mapText
	switch {
	case in.typed && earlier != nil:
		m.mapName = earlier.mapName
		if bytes.Equal(plainLines(in.mapText), plainLines(earlier.mapText)) {
			m.mapText = earlier.mapText // forms change the line ends
		} else {
			m.mapText = plainLines(in.mapText)
		}
	case in.mapText != nil:
	case earlier != nil && earlier.mapText != nil:
		m.mapName, m.mapText = earlier.mapName, earlier.mapText
	case s.work.Map != nil:
		m.mapName, m.mapText = s.work.MapName, s.work.Map
	}
	if m.mapName == "" {
		m.mapName = "map.yaml"
	}
	return nil
}

// marked takes the marks of the recording, if any were taken and none were dropped.
func (s *Server) marked(in *intake, path string) error {
	if path == "" || in.beside.Has("marks") {
		return nil
	}
	file, err := os.Open(path)
	if err != nil {
		return nil // nothing was marked
	}
	defer file.Close()
	return s.beyond(in, "marks", filepath.Base(path), file)
}

func plainLines(text []byte) []byte { return bytes.ReplaceAll(text, []byte("\r\n"), []byte("\n")) }

func gone() error {
	return &trouble{http.StatusGone, "that measurement is no longer kept", "drop its log again"}
}

// hold keeps a measurement, which takes over the drop's share in its files.
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

// demonstrate takes a drive of the demonstration as if it were dropped.
func (s *Server) demonstrate(w http.ResponseWriter, r *http.Request, in *intake) error {
	r.Body = http.MaxBytesReader(w, r.Body, mostField)
	name := r.PostFormValue("name")
	for _, d := range s.work.Demo {
		if d.Name == name {
			in.mapName, in.mapText = d.MapName, d.Map()
			return s.save(in, d.LogName, bytes.NewReader(d.Log()))
		}
	}
	return &trouble{http.StatusNotFound, "there is no such demonstration", ""}
}
