package picture_test

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"codeberg.org/go-fonts/dejavu/dejavusanscondensed"
	"codeberg.org/go-fonts/dejavu/dejavusanscondensedbold"
	"codeberg.org/go-pdf/fpdf"

	"lull/analyze"
	"lull/analyze/onelog"
	"lull/analyze/scenario"
	"lull/analyze/trace"
	"lull/cmd/lull/internal/picture"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/decode/sigmap"
)

// drawn measures a drive and draws all that there is to draw of it.
func drawn(t *testing.T, d scenario.Drive, width float64, change func(*decode.Map)) (*decode.Map, *analyze.Result, []picture.Drawing, picture.Drawing) {
	t.Helper()
	m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(m)
	}
	run := onelog.NewRun(m)
	d.Play(func(f *decode.Frame) { run.Push(f) })
	res := run.Finish(decode.Info{Stamps: decode.StampsAbsolute})
	windows := []analyze.Window{picture.DriveWindow(res)}
	var from []int
	for i := range res.Episodes {
		from = append(from, len(windows))
		windows = append(windows, picture.EpisodeWindows(&res.Episodes[i], res)...)
	}
	tracer := trace.New(m, res, windows)
	d.Play(func(f *decode.Frame) { tracer.Push(f) })
	traces := tracer.Finish()
	var episodes []picture.Drawing
	for i, at := range append(from, len(windows))[1:] {
		episodes = append(episodes, picture.Episode(m, res, &res.Episodes[i], traces[from[i]:at], width))
	}
	return m, res, episodes, picture.Drive(m, res, traces[0], width)
}

// labels are all texts of a drawing.
func labels(d *picture.Drawing) []string {
	var list []string
	for _, s := range d.Shapes {
		if s.Kind == picture.Text {
			list = append(list, s.Label)
		}
	}
	return list
}

// All drawings of all drives stay on their sheets, are well-formed markup, name
// each instant and condition, and say each time that was measured.
func TestDrawingsShowWhatWasFound(t *testing.T) {
	silent, spans := 0, 0
	for _, d := range scenario.Drives() {
		for _, width := range []float64{picture.Wide, picture.Narrow} {
			m, res, episodes, drive := drawn(t, d, width, nil)
			for i := range episodes {
				e := &res.Episodes[i]
				where := fmt.Sprintf("%s episode %d", d.Name, e.N)
				onItsSheet(t, where, &episodes[i])
				all := labels(&episodes[i])
				want := []string{"stop"}
				if e.Running != nil {
					want = append(want, "running")
				}
				if e.Request != nil {
					want = append(want, "asked: "+m.Requests[e.Request.Condition].Name)
				}
				for _, v := range e.Metrics {
					text, ok := words.MetricText(v)
					if ok && slices.Contains([]string{"run_down", "restart_latency", "crank_to_run"}, v.Key) {
						spans++
						want = append(want, words.Spoken(v.Key)+" "+text)
					}
				}
				for _, s := range res.Silences {
					if s.Episode == e.N {
						silent++
						want = append(want, "silent: "+s.Module)
					}
				}
				if width == picture.Narrow { // there is room for whole names
					for _, c := range m.Inhibits {
						want = append(want, "inhibit: "+c.Name)
					}
					for _, c := range m.Requests {
						want = append(want, "ask: "+c.Name)
					}
				}
				for _, label := range want {
					if !slices.Contains(all, label) {
						t.Errorf("%s lacks %q: %q", where, label, all)
					}
				}
			}
			onItsSheet(t, d.Name, &drive)
			for _, e := range res.Episodes {
				if e.N == 1 && !slices.Contains(labels(&drive), "1") {
					t.Errorf("%s: the drive does not name episode 1", d.Name)
				}
			}
		}
	}
	if silent < 10 || spans < 100 {
		t.Errorf("only %d silences and %d spans were looked for", silent, spans)
	}
}

func onItsSheet(t *testing.T, where string, d *picture.Drawing) {
	t.Helper()
	for _, s := range d.Shapes {
		for _, p := range s.Points {
			if p.X < -1 || p.X > d.Width+1 || p.Y < -1 || p.Y > d.Height+1 {
				t.Errorf("%s: %v of %+v lies off its sheet of %v by %v", where, p, s, d.Width, d.Height)
				return
			}
		}
	}
	r := xml.NewDecoder(bytes.NewReader(d.SVG()))
	for {
		if _, err := r.Token(); err == io.EOF {
			return
		} else if err != nil {
			t.Errorf("%s: not well-formed: %v", where, err)
			return
		}
	}
}

// No upright line runs through a text, however dense the picture is.
func TestUprightLinesKeepClearOfTexts(t *testing.T) {
	uprights, texts := 0, 0
	for _, d := range scenario.Drives() {
		for _, width := range []float64{picture.Wide, picture.Narrow} {
			_, _, episodes, drive := drawn(t, d, width, nil)
			for _, drawing := range append(episodes, drive) {
				u, n := clearOfTexts(t, fmt.Sprintf("%s, %v px, %s", d.Name, width, drawing.Title), &drawing)
				uprights, texts = uprights+u, texts+n
			}
		}
	}
	if uprights < 1000 || texts < 1000 {
		t.Errorf("only %d lines and %d texts", uprights, texts)
	}
}

// clearOfTexts holds each upright line of a drawing against each text, and says how many
// there were. A letter is at least 5 px wide on the whole.
func clearOfTexts(t *testing.T, where string, drawing *picture.Drawing) (uprights, texts int) {
	t.Helper()
	var boxes [][4]float64
	for _, s := range drawing.Shapes {
		if s.Kind == picture.Text {
			texts++
			x, w := s.Points[0].X, float64(utf8.RuneCountInString(s.Label))*5
			x -= w * [...]float64{picture.Start: 0, picture.Middle: 0.5, picture.End: 1}[s.Anchor]
			boxes = append(boxes, [4]float64{x, s.Points[0].Y - 8, x + w, s.Points[0].Y})
		}
	}
	for _, s := range drawing.Shapes {
		if s.Kind != picture.Line || s.Ink != picture.Moment && s.Ink != picture.Grid || s.Points[0].X != s.Points[1].X {
			continue
		}
		uprights++
		x, top, bottom := s.Points[0].X, s.Points[0].Y, s.Points[1].Y
		for i, b := range boxes {
			if x > b[0] && x < b[2] && top < b[3] && bottom > b[1] {
				t.Errorf("%s: the line at %.0f runs through %q", where, x, labels(drawing)[i])
			}
		}
	}
	return uprights, texts
}

// What the car itself says kept its engine running has a bar for each code, over the
// standstill that it is the reason of, and none where nothing was in the way.
func TestTheCarsOwnCodesAreDrawn(t *testing.T) {
	for _, width := range []float64{picture.Wide, picture.Narrow} {
		_, res, episodes, drive := drawn(t, scenario.Drives()[1], width, nil)
		var want, got []string
		for _, s := range res.Standstills {
			for _, c := range s.Codes {
				if c.Share > 0.5 {
					want = append(want, "own code: "+c.Name)
				}
			}
		}
		for _, label := range labels(&drive) {
			if strings.HasPrefix(label, "own code: ") {
				got = append(got, label)
			}
		}
		if len(want) != 2 || len(got) != 2 {
			t.Fatalf("%d codes, %d drawn: %q", len(want), len(got), got)
		}
		for i := range want { // where the room is narrow beside the plot, a name is cut
			if !strings.HasPrefix(want[i], strings.TrimSuffix(got[i], "…")) {
				t.Errorf("%q, want %q", got[i], want[i])
			}
		}
		for i := range episodes {
			if slices.ContainsFunc(labels(&episodes[i]), func(l string) bool { return strings.HasPrefix(l, "own code") }) {
				t.Errorf("%s has a code that was not there", episodes[i].Title)
			}
		}
	}
}

// PDF draws each shape: it comes out without an error and grows with each episode.
func TestDrawingsAreDrawnInPDF(t *testing.T) {
	_, _, episodes, drive := drawn(t, scenario.Drives()[1], picture.Wide, nil)
	size := func(drawings ...picture.Drawing) int {
		doc := fpdf.New("P", "mm", "A4", "")
		doc.AddUTF8FontFromBytes(picture.Font, "", dejavusanscondensed.TTF)
		doc.AddUTF8FontFromBytes(picture.Font, "B", dejavusanscondensedbold.TTF)
		for i := range drawings {
			doc.AddPage()
			drawings[i].PDF(doc, 10, 10, 190)
		}
		var b bytes.Buffer
		if err := doc.Output(&b); err != nil {
			t.Fatal(err)
		}
		return b.Len()
	}
	if a, b := size(drive), size(append(episodes, drive)...); b < a+1000*len(episodes) {
		t.Errorf("%d bytes with %d episodes, %d without", b, len(episodes), a)
	}
}

// A gap of the recording is named in the picture that it lies in, and what is not
// known is hatched.
func TestGapsAndWhatIsUnknownAreShown(t *testing.T) {
	m, res, _, _ := drawn(t, scenario.Drives()[1], picture.Wide, nil)
	e := &res.Episodes[0]
	res.Gaps = append(res.Gaps, analyze.Gap{Start: e.Stop.T - 4e8, End: e.Stop.T + 3e8})
	windows := picture.EpisodeWindows(e, res)
	traces := trace.New(m, res, windows).Finish() // of a log that holds nothing
	d := picture.Episode(m, res, e, traces, picture.Wide)
	onItsSheet(t, "nothing seen", &d)
	for _, label := range []string{"no recording", "slanting lines: not known"} {
		if !slices.Contains(labels(&d), label) {
			t.Errorf("the picture lacks %q: %q", label, labels(&d))
		}
	}
}

// Each ink has its rules in the style sheet, in light and in dark.
func TestTheStyleSheetKnowsEveryInk(t *testing.T) {
	css := picture.CSS()
	light, dark, found := strings.Cut(css, "@media screen and (prefers-color-scheme:dark)")
	for _, class := range []string{"w", "h", "q", "g", "p", "s", "t", "l", "b", "m", "r", "x", "o", "k"} {
		for _, part := range []string{light, dark} {
			if !found || !strings.Contains(part, ".pic path."+class+"{stroke:#") || !strings.Contains(part, ".f"+class) {
				t.Errorf("the style sheet lacks %s", class)
			}
		}
	}
}

// Names of any length are cut to the room that they have, and signals that are not
// there leave no empty plot.
func TestDrawingsCopeWithOddMaps(t *testing.T) {
	long := strings.Repeat("long name ", 40)
	_, _, episodes, drive := drawn(t, scenario.Drives()[1], picture.Wide, func(m *decode.Map) {
		for i := range m.Requests {
			m.Requests[i].Name = long
		}
		for i := range m.Inhibits {
			m.Inhibits[i].Name = long
		}
		for _, r := range []decode.Role{decode.BatteryVoltage, decode.ModuleSupply, decode.HoldPressure, decode.StarterCommand} {
			if i := m.Role[r]; i >= 0 {
				m.Signals[i].Role, m.Role[r] = decode.NoRole, -1
			}
		}
	})
	for i := range episodes {
		onItsSheet(t, "odd map", &episodes[i])
		for _, label := range labels(&episodes[i]) {
			if label == "voltage" || label == "hold pressure" || label == "starter" {
				t.Errorf("a plot of %s without a signal", label)
			}
			if len(label) > 200 {
				t.Errorf("a label of %d bytes", len(label))
			}
		}
	}
	onItsSheet(t, "odd map", &drive)
}
