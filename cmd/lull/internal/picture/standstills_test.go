package picture_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"lull/analyze"
	"lull/analyze/onelog"
	"lull/analyze/scenario"
	"lull/analyze/trace"
	"lull/cmd/lull/internal/picture"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/sigmap"
)

// standing measures a log that holds a drive so many times, time being set back between
// them, and takes the samples for the pictures of its standstills.
func standing(t *testing.T, d scenario.Drive, times int) (*decode.Map, *analyze.Result, map[int]analyze.Traces) {
	t.Helper()
	m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
	if err != nil {
		t.Fatal(err)
	}
	run := onelog.NewRun(m)
	for range times {
		d.Play(func(f *decode.Frame) { run.Push(f) })
	}
	res := run.Finish(decode.Info{})
	var windows []analyze.Window
	var places []int
	for i := range res.Standstills {
		if s := &res.Standstills[i]; picture.HasPicture(s) {
			windows, places = append(windows, picture.StandstillWindow(s, res)), append(places, i)
		}
	}
	tracer := trace.New(m, res, windows)
	for range times {
		d.Play(func(f *decode.Frame) { tracer.Push(f) })
	}
	traces := map[int]analyze.Traces{}
	for k, one := range tracer.Finish() {
		traces[places[k]] = one
	}
	return m, res, traces
}

// All drawings of standstills stay on their sheets, name each instant, each inhibit with
// what was measured, and each code that was in the way; what the picture has as true is
// what the analysis found to stand in the way.
func TestStandstillsAreDrawnAsTheyWere(t *testing.T) {
	drawn, codes := 0, 0
	for _, d := range scenario.Drives() {
		m, res, traces := standing(t, d, 1)
		for i, one := range traces {
			s := &res.Standstills[i]
			where := fmt.Sprintf("%s standstill %d", d.Name, s.N)
			for _, width := range []float64{picture.Wide, picture.Narrow} {
				drawing := picture.Standstill(m, res, s, one, width)
				drawn++
				onItsSheet(t, where, &drawing)
				clearOfTexts(t, where, &drawing)
				all := labels(&drawing)
				want := []string{"stands"}
				if !s.Open {
					want = append(want, "leaves")
				}
				if s.Episode != 0 {
					want = append(want, fmt.Sprintf("episode %d", s.Episode))
				}
				if width == picture.Narrow { // there is room for whole names
					for _, c := range m.Inhibits {
						want = append(want, "inhibit: "+c.Name)
					}
					for _, c := range s.Codes {
						codes++
						want = append(want, "own code: "+c.Name)
					}
				}
				for _, label := range want {
					if !slices.Contains(all, label) {
						t.Errorf("%s lacks %q: %q", where, label, all)
					}
				}
				for k := range m.Inhibits {
					if text := words.MeasuredAgainst(m, s, k); !strings.Contains(strings.Join(all, " "), text) || text == "" {
						t.Errorf("%s does not tell %q: %q", where, text, all)
					}
				}
			}
			held(t, where, m, s, &one)
		}
	}
	if drawn < 60 || codes < 4 {
		t.Errorf("only %d pictures and %d codes were looked at", drawn, codes)
	}
}

// held holds what a picture has as true against what the analysis found to stand in the way
// of stopping the engine.
func held(t *testing.T, where string, m *decode.Map, s *analyze.Standstill, traces *analyze.Traces) {
	t.Helper()
	for k := range m.Inhibits {
		held := int64(0)
		for _, v := range traces.Inhibits[k] {
			if from, to := max(v.From, s.Start.T), min(v.To, s.Until); v.State == analyze.True && to > from {
				held += to - from
			}
		}
		if share := float64(held) / float64(s.Until-s.Start.T); s.Until > s.Start.T && math.Abs(share-s.Inhibits[k].Share) > 0.1 {
			t.Errorf("%s: %s was true for %.2f of it in the picture, for %.2f in the result", where, m.Inhibits[k].Name, share, s.Inhibits[k].Share)
		}
	}
}

// Where time is set back, a standstill has the picture of its own stretch of the log.
func TestStandstillsAreDrawnFromTheirOwnStretch(t *testing.T) {
	m, res, traces := standing(t, scenario.Drives()[1], 2)
	half := len(res.Standstills) / 2
	drawn := 0
	for i, one := range traces {
		s := &res.Standstills[i]
		where := fmt.Sprintf("standstill %d of stretch %d", s.N, s.Part)
		if want := i / half; s.Part != want || one.Part != want {
			t.Errorf("%s: it lies in stretch %d", where, want)
		}
		if i >= half {
			drawn++
		}
		if len(one.Of(decode.VehicleSpeed)) < 10 {
			t.Errorf("%s: %d points", where, len(one.Of(decode.VehicleSpeed)))
		}
		held(t, where, m, s, &one)
		for _, v := range words.StandstillStory(m, res, s) {
			if strings.Contains(v.Text, "episode") && s.Episode == 0 {
				t.Errorf("%s tells of an episode of the other stretch: %s", where, v.Text)
			}
		}
	}
	if drawn < 5 {
		t.Errorf("only %d standstills after time was set back", drawn)
	}
}

// What a cursor reads in the picture of a standstill is what the picture shows there.
func TestReadingsOfStandstillsLieWhereThePictureHasThem(t *testing.T) {
	d := scenario.Drives()[1]
	m, res, traces := standing(t, d, 1)
	for i, one := range traces {
		s := &res.Standstills[i]
		r := picture.StandstillReadings(m, res, s, one)
		drawing := picture.Standstill(m, res, s, one, picture.Wide)
		p := r.Pieces.Wide[0]
		for _, at := range r.Moments {
			x := math.Round(10 * (p[2] + (at.T-p[0])/(p[1]-p[0])*(p[3]-p[2])))
			if !slices.ContainsFunc(drawing.Shapes, func(v picture.Shape) bool {
				return v.Kind == picture.Line && v.Ink == picture.Moment && math.Round(v.Points[0].X*10) == x
			}) {
				t.Errorf("standstill %d: nothing is drawn at %s, %v s", s.N, at.Name, at.T)
			}
		}
		if len(r.Signals) < 4 || r.Signals[0].Name != "vehicle speed" || len(r.States) < len(m.Inhibits) {
			t.Errorf("standstill %d: %d signals, %d states", s.N, len(r.Signals), len(r.States))
		}
	}
}

// Names and thresholds of any length are cut or broken to the room that they have.
func TestStandstillsOfOddMapsAreDrawn(t *testing.T) {
	m, res, traces := standing(t, scenario.Drives()[1], 1)
	for i := range m.Inhibits {
		m.Inhibits[i].Name = strings.Repeat("long name ", 40)
	}
	for i := range res.Standstills {
		for k := range res.Standstills[i].Inhibits {
			for n := range res.Standstills[i].Inhibits[k].Measured {
				res.Standstills[i].Inhibits[k].Measured[n].Against = strings.Repeat("x", 300) + strings.Repeat(" above 5", 40)
			}
		}
	}
	for i, one := range traces {
		for _, width := range []float64{picture.Wide, picture.Narrow} {
			drawing := picture.Standstill(m, res, &res.Standstills[i], one, width)
			onItsSheet(t, "odd map", &drawing)
			for _, label := range labels(&drawing) {
				if len(label) > 200 {
					t.Errorf("a label of %d bytes", len(label))
				}
			}
		}
	}
}
