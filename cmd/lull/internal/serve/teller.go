package serve

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"strings"
	"time"

	"lull/cmd/lull/internal/serve/web"
	"lull/cmd/lull/internal/words"
)

// tellEvery is how often the script is told the progress of a measurement.
const tellEvery = 100 * time.Millisecond

// ndjson is what the script asks for: one JSON object a line, as things happen.
const ndjson = "application/x-ndjson"

// teller reports the progress of a drop to the script. A form is told nothing until the
// end. Only the goroutine of the request calls its methods.
type teller struct {
	w     http.ResponseWriter
	late  func() time.Time // when a line must have been taken
	lines bool
	begun bool
	last  time.Time
}

// line is what the script is told.
type line struct {
	Before int     `json:"before,omitempty"` // number of drops that are measured first
	Part   float64 `json:"part,omitempty"`   // measured so far, from 0 to 1
	At     string  `json:"at,omitempty"`     // where the result is
	Error  string  `json:"error,omitempty"`
}

func (s *Server) newTeller(w http.ResponseWriter, r *http.Request) *teller {
	return &teller{w: w, late: s.late, lines: strings.Contains(r.Header.Get("Accept"), ndjson)}
}

func (t *teller) place(before int) { t.tell(line{Before: before}) }

func (t *teller) part(part float64) {
	if now := time.Now(); part > 0 && now.Sub(t.last) >= tellEvery {
		t.last = now
		t.tell(line{Part: part})
	}
}

func (t *teller) tell(l line) {
	if !t.lines {
		return
	}
	if !t.begun {
		t.begun = true
		t.w.Header().Set("Content-Type", ndjson)
	}
	text, err := json.Marshal(l)
	if err != nil {
		return // cannot fail: numbers and text only
	}
	// A client that no longer reads is noticed by the end of the context.
	control := http.NewResponseController(t.w)
	_ = control.SetWriteDeadline(t.late())
	_, _ = t.w.Write(append(text, '\n'))
	_ = control.Flush()
}

// finish says where the result of a drop is, or why there is none.
func (s *Server) finish(w http.ResponseWriter, r *http.Request, t *teller, at string, err error) {
	switch {
	case err == nil:
	case errors.Is(err, errClosed) || errors.Is(context.Cause(r.Context()), errClosed):
		err = &trouble{http.StatusServiceUnavailable, errClosed.Error(), "start it again"}
	case errors.Is(err, context.Canceled):
		return // nobody is left to tell
	}
	switch {
	case err == nil && t.lines:
		t.tell(line{At: at})
	case err == nil:
		http.Redirect(w, r, at, http.StatusSeeOther)
	case t.lines:
		if !t.begun {
			w.Header().Set("Content-Type", ndjson)
			t.begun = true
			w.WriteHeader(statusOf(err))
		}
		t.tell(line{Error: words.VisibleBlock(err.Error())})
	default:
		s.refuse(w, statusOf(err), err.Error(), "")
	}
}

func statusOf(err error) int {
	var t *trouble
	if errors.As(err, &t) {
		return t.status
	}
	return http.StatusInternalServerError
}

// refuse shows why there is no page.
func (s *Server) refuse(w http.ResponseWriter, status int, what, hint string) {
	notice := web.Notice{Frame: s.frame(), Text: what, Hint: hint}
	if status == http.StatusForbidden {
		notice.Base = "" // do not give the token away
	}
	s.write(w, status, notice.Write)
}
