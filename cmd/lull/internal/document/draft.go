package document

import (
	"io"

	"lull/cmd/lull/internal/words"
	"lull/decode"
)

type draftDocument struct {
	formatOnly
	Logs    []string       `json:"logs"`
	Frames  int64          `json:"frames"`
	Answer  string         `json:"answer"`
	Signals []draftedJSON  `json:"signals"`
	Missing []missingJSON  `json:"missing"`
	Engine  *draftedEngine `json:"engine"`
}

type draftedEngine struct {
	Starts int `json:"starts"`
	Stops  int `json:"stops"`
}

type draftedJSON struct {
	Name     string         `json:"name"`
	Role     *string        `json:"role"`
	Field    string         `json:"field"`
	Factor   *string        `json:"factor"`
	Written  bool           `json:"written"`
	Evidence string         `json:"evidence"`
	Alike    int            `json:"alike"`
	At       draftedPlace   `json:"at"`
	Rivals   []draftedPlace `json:"rivals"`
}

// draftedPlace is where a field lies, in the words of a map.
type draftedPlace struct {
	Frame   string    `json:"frame"`
	Bus     *string   `json:"bus"`
	Start   int       `json:"start"`
	Length  int       `json:"length"`
	Order   string    `json:"order"`
	Signed  bool      `json:"signed"`
	Factor  float64   `json:"factor"`
	Offset  float64   `json:"offset"`
	Unit    *string   `json:"unit"`
	Active  []int64   `json:"active"`
	Invalid []int64   `json:"invalid"`
	Page    *pageJSON `json:"page"`
}

type pageJSON struct {
	Start  int   `json:"start"`
	Length int   `json:"length"`
	Value  int64 `json:"value"`
}

type missingJSON struct {
	Name string `json:"name"`
	Why  string `json:"why"`
}

// WriteDraftJSON writes a draft: every proposal with its place, evidence and rivals.
func WriteDraftJSON(w io.Writer, d *words.Draft) error {
	j := draftDocument{formatOnly: format, Logs: d.Logs, Frames: d.Result.Frames, Answer: d.Answer(), Signals: []draftedJSON{}, Missing: []missingJSON{}}
	if d.Result.Drive.Known {
		j.Engine = &draftedEngine{d.Result.Drive.Starts, d.Result.Drive.Stops}
	}
	for i := range d.Result.Signals {
		s := &d.Result.Signals[i]
		x := draftedJSON{Name: s.Name, Field: s.FieldIs.String(), Written: s.Written, Evidence: words.DraftEvidence(s), Alike: s.Alike,
			At: draftPlace(&s.Entry, &s.Field, s.Factor, s.Offset, s.Page, s.PageValue), Rivals: []draftedPlace{}}
		if role := s.What.Role(); role != decode.NoRole {
			x.Role = new(role.String())
		}
		if s.HasFactor() {
			x.Factor = new(s.ScaleIs.String())
		}
		for k := range s.Rivals {
			r := &s.Rivals[k]
			x.Rivals = append(x.Rivals, draftPlace(&r.Entry, &r.Field, r.Factor, r.Offset, r.Page, r.PageValue))
		}
		j.Signals = append(j.Signals, x)
	}
	for _, m := range d.Result.Missing {
		j.Missing = append(j.Missing, missingJSON{m.What.Name(), words.DraftMissing(m)})
	}
	for _, name := range d.Result.Unfollowed {
		j.Missing = append(j.Missing, missingJSON{name, words.Unfollowed})
	}
	return writeIndented(w, j)
}

func draftPlace(e *decode.Entry, f *decode.Signal, factor, offset float64, page *decode.Signal, value int64) draftedPlace {
	p := draftedPlace{Frame: e.Label(), Start: f.Start, Length: f.Length, Order: "little", Signed: f.Signed, Factor: factor, Offset: offset, Active: f.Active, Invalid: f.Invalid}
	if f.BigEndian {
		p.Order = "big"
	}
	if e.Bus != "" {
		p.Bus = new(e.Bus)
	}
	if f.Unit != "" {
		p.Unit = new(f.Unit)
	}
	if page != nil {
		p.Page = &pageJSON{page.Start, page.Length, value}
	}
	return p
}
