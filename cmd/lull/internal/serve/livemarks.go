package serve

import (
	"encoding/json"
	"net/http"
	"strconv"
	"strings"
	"time"

	"lull/cmd/lull/internal/words"
)

const (
	// mostMark bounds what the page sends of a mark.
	mostMark = 4 << 10
	// longestAgo is how far back what is told was, at most: as long as somebody types.
	longestAgo = 2 * time.Minute
)

// Marker takes what a person marks while a drive is recorded. Its methods may be called
// by several goroutines. Each is told how long ago it was.
type Marker interface {
	// Toggle begins the mark of a name, or ends it.
	Toggle(name string, ago time.Duration) error
	// Read takes what the dashboard showed, such as `50 km/h`.
	Read(text string, ago time.Duration) error
}

// liveMark takes a mark: a button that was pressed, or what the dashboard showed.
func (s *Server) liveMark(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, mostMark)
	if err := r.ParseForm(); err != nil {
		s.refuse(w, http.StatusBadRequest, "the mark did not arrive whole", "press again")
		return
	}
	err := s.takeMark(r)
	asked := strings.Contains(r.Header.Get("Accept"), "application/json")
	switch {
	case asked:
		answer := struct {
			Error string `json:"error"`
		}{}
		if err != nil {
			answer.Error = words.Visible(err.Error())
		}
		text, fault := json.Marshal(answer)
		if fault != nil {
			return // cannot fail: text only
		}
		s.answer(w, http.StatusOK, "application/json", text)
	case err != nil:
		s.refuse(w, http.StatusConflict, words.Visible(err.Error()), "")
	default:
		http.Redirect(w, r, s.base()+"/live", http.StatusSeeOther)
	}
}

func (s *Server) takeMark(r *http.Request) error {
	ago := time.Duration(0)
	if ms, err := strconv.ParseInt(r.PostFormValue("ago"), 10, 64); err == nil && ms > 0 {
		ago = min(time.Duration(min(ms, 1e9))*time.Millisecond, longestAgo)
	}
	marker := s.work.Live.about.Marker
	if name := r.PostFormValue("mark"); name != "" {
		key, ok := words.FindMark(name)
		if !ok {
			return &words.Failure{What: "not marked: there is no such button", Hint: "load the page again"}
		}
		return marker.Toggle(key.Name, ago)
	}
	return marker.Read(r.PostFormValue("value")+" "+r.PostFormValue("unit"), ago)
}
