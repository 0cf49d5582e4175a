package picture_test

import (
	"math"
	"testing"

	"lull/analyze"
	"lull/analyze/onelog"
	"lull/analyze/scenario"
	"lull/analyze/trace"
	"lull/cmd/lull/internal/picture"
	"lull/decode"
	"lull/decode/sigmap"
	"lull/pkg/bounds"
)

// What a cursor reads at a place of a picture is what the picture shows there: the
// lines of its instants stand where the pieces of time put them, in both widths.
func TestReadingsLieWhereThePictureHasThem(t *testing.T) {
	for _, d := range scenario.Drives() {
		m, res, traces := traced(t, d)
		for i := range res.Episodes {
			e := &res.Episodes[i]
			r := picture.ReadingsOf(m, res, e, traces[i])
			for width, pieces := range map[float64][][4]float64{picture.Wide: r.Pieces.Wide, picture.Narrow: r.Pieces.Narrow} {
				drawing := picture.Episode(m, res, e, traces[i], width)
				lines := map[float64]bool{}
				for _, s := range drawing.Shapes {
					if s.Kind == picture.Line && s.Ink == picture.Moment {
						lines[math.Round(s.Points[0].X*10)] = true
					}
				}
				for _, at := range r.Moments {
					found := false
					for _, p := range pieces {
						if at.T >= p[0] && at.T <= p[1] {
							found = lines[math.Round(10*(p[2]+(at.T-p[0])/(p[1]-p[0])*(p[3]-p[2])))]
						}
					}
					if !found {
						t.Errorf("%s, episode %d, width %v: nothing is drawn at %s, %v s", d.Name, e.N, width, at.Name, at.T)
					}
				}
			}
		}
	}
}

// A reading has every sample of the picture, and of every condition when it was
// true and when nothing is known of it.
func TestReadingsHoldWhatWasTraced(t *testing.T) {
	for _, d := range scenario.Drives() {
		m, res, traces := traced(t, d)
		for i := range res.Episodes {
			r := picture.ReadingsOf(m, res, &res.Episodes[i], traces[i])
			points := 0
			for _, s := range r.Signals {
				points += len(s.Points)
				if s.Points[0][2] != 1 {
					t.Errorf("%s: %s begins as if something were known before", d.Name, s.Name)
				}
			}
			want, codes := 0, map[float64]bool{}
			for _, w := range traces[i] {
				for _, s := range w.Signals {
					if s.Role != decode.InhibitCode {
						want += len(s.Points)
						continue
					}
					for k, p := range s.Points {
						if v := m.RoleSignal(decode.InhibitCode); !v.IsClear(int64(p.Value)) && (k+1 == len(s.Points) || !s.Points[k+1].Break) {
							codes[p.Value] = true
						}
					}
				}
			}
			if points != want {
				t.Errorf("%s, episode %d: %d points read, %d traced", d.Name, i+1, points, want)
			}
			if len(r.States) != len(m.Requests)+len(m.Inhibits)+len(codes) {
				t.Errorf("%s: %d states of %d requests, %d inhibits and %d codes", d.Name, len(r.States), len(m.Requests), len(m.Inhibits), len(codes))
			}
			for k, s := range r.States[:len(m.Requests)] {
				var spans [][3]float64
				for _, w := range traces[i] {
					for _, v := range w.Requests[k] {
						if v.State != analyze.False {
							spans = append(spans, [3]float64{bounds.Seconds(v.From), bounds.Seconds(v.To), map[analyze.Truth]float64{analyze.True: 1, analyze.Unknown: 2}[v.State]})
						}
					}
				}
				if len(spans) != len(s.Spans) {
					t.Fatalf("%s: %s has the spans %v, traced %v", d.Name, s.Name, s.Spans, spans)
				}
				for n := range spans {
					if spans[n] != s.Spans[n] {
						t.Errorf("%s: %s has the span %v, traced %v", d.Name, s.Name, s.Spans[n], spans[n])
					}
				}
			}
		}
	}
}

// traced measures a drive and takes the samples for its episodes' pictures.
func traced(t *testing.T, d scenario.Drive) (*decode.Map, *analyze.Result, [][]analyze.Traces) {
	t.Helper()
	m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
	if err != nil {
		t.Fatal(err)
	}
	run := onelog.NewRun(m)
	d.Play(func(f *decode.Frame) { run.Push(f) })
	res := run.Finish(decode.Info{})
	var windows []analyze.Window
	for i := range res.Episodes {
		windows = append(windows, picture.EpisodeWindows(&res.Episodes[i], res)...)
	}
	tracer := trace.New(m, res, windows)
	d.Play(func(f *decode.Frame) { tracer.Push(f) })
	all := tracer.Finish()
	list := make([][]analyze.Traces, len(res.Episodes))
	for i := range res.Episodes {
		n := len(picture.EpisodeWindows(&res.Episodes[i], res))
		list[i], all = all[:n], all[n:]
	}
	return m, res, list
}
