package picture

import (
	"bytes"
	"encoding/xml"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lull/analyze"
)

var update = flag.Bool("update", false, "write the golden files anew")

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), string(got)); d != "" {
		t.Errorf("%s: (-want +got)\n%s", name, d)
	}
}

// wellFormed reads markup to its end.
func wellFormed(t interface{ Fatalf(string, ...any) }, svg []byte) {
	d := xml.NewDecoder(bytes.NewReader(svg))
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else if err != nil {
			t.Fatalf("not well-formed: %v", err)
		}
	}
}

func TestSidesAreDrawnAsTheyWere(t *testing.T) {
	rows := []SidesRow{
		{Name: "restart latency", Unit: "s", Before: []float64{0.55, 0.75, 0.77}, After: []float64{0.5, 0.5, 0.52, 0.58}, Note: "shift -0.2 s"},
		{Name: "one & only", After: []float64{3}},
		{Name: "nothing"},
	}
	for name, width := range map[string]float64{"sides_wide.svg": Wide, "sides_narrow.svg": Narrow} {
		d := Sides(rows, width)
		svg := d.SVG()
		wellFormed(t, svg)
		golden(t, name, append(bytes.ReplaceAll(svg, []byte("><"), []byte(">\n<")), '\n'))
	}
}

// A line that is thinned passes every point of the whole line, to what coordinates
// are rounded by, within a dot of where it lies; it takes no point that was not
// there, and begins and ends alike.
func TestThinnedLinesLoseNoExtreme(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var run []Point
		there := map[Point]bool{}
		x := 0.0
		for range rapid.IntRange(1, 200).Draw(t, "points") {
			x += rapid.Float64Range(0, 1).Draw(t, "step")
			p := Point{x, float64(rapid.IntRange(0, 9).Draw(t, "y"))}
			run = append(run, p)
			there[p] = true
		}
		dots := rapid.SampledFrom([]float64{1, 2}).Draw(t, "dots")
		thinned := thin(append([]Point(nil), run...), dots)
		for _, p := range thinned {
			if !there[p] {
				t.Fatalf("%v was not there", p)
			}
		}
		for _, p := range run {
			if !passes(thinned, math.Floor(p.X*dots)/dots, (math.Floor(p.X*dots)+1)/dots, p.Y) {
				t.Fatalf("%v is lost of %v: %v", p, run, thinned)
			}
		}
		if thinned[0] != run[0] || thinned[len(thinned)-1] != run[len(run)-1] {
			t.Fatal("an end is lost")
		}
	})
	level := thin([]Point{{0, 1}, {1, 1}, {2, 1.02}, {3, 1}, {9, 1}}, 2)
	if d := cmp.Diff([]Point{{0, 1}, {9, 1}}, level); d != "" {
		t.Errorf("a straight line: (-want +got)\n%s", d)
	}
}

// passes reports whether a line is at a height somewhere between two places.
func passes(line []Point, left, right, y float64) bool {
	const near = 0.0501
	for i, p := range line {
		if i == 0 || p.X == line[i-1].X {
			if p.X >= left && p.X <= right && math.Abs(p.Y-y) <= near {
				return true
			}
			if i == 0 {
				continue
			}
		}
		from, to, ok := between(line[i-1], p, left, right)
		if ok && min(from.Y, to.Y)-near <= y && y <= max(from.Y, to.Y)+near {
			return true
		}
	}
	return false
}

// The steps in a path add up to where its points are, to a tenth of a pixel.
func TestPathsEndWhereTheirLinesEnd(t *testing.T) {
	for _, c := range []struct {
		points []Point
		want   string
	}{
		{[]Point{{1, 2}, {1, 2}, {1.04, 2.3}, {-0.46, 2.3}}, "M1 2l0 .3 -1.5 0"},
		{[]Point{{10.04, 0}, {10.08, 0}, {10.12, 0}}, "M10 0l.1 0"},
		{[]Point{{0, 0}, {-3, -4.5}, {0, 0}}, "M0 0l-3-4.5 3 4.5"},
	} {
		var b bytes.Buffer
		path(&b, c.points)
		if got := b.String(); got != c.want {
			t.Errorf("%v: %s, want %s", c.points, got, c.want)
		}
	}
}

// Time runs from left to right, in every piece and in the breaks between them.
func TestTimeRunsFromLeftToRight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var spans [][2]int64
		at := int64(0)
		for range rapid.IntRange(1, 5).Draw(t, "pieces") {
			from := at + rapid.Int64Range(1, 1e9).Draw(t, "between")
			at = from + rapid.Int64Range(1, 1e9).Draw(t, "length")
			spans = append(spans, [2]int64{from, at})
		}
		line := newTimeline(spans, 40, 960)
		last := math.Inf(-1)
		for i := range 100 {
			x := line.x(at * int64(i) / 99)
			if x < last || x < 40-1e-6 || x > 960+1e-6 {
				t.Fatalf("%v after %v", x, last)
			}
			last = x
		}
		if math.Abs(last-960) > 1e-6 {
			t.Fatalf("the end lies at %v", last)
		}
	})
}

// Round steps lie in the range, apart by one step, and their digits tell them
// apart.
func TestRoundStepsAreRound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(-1e6, 1e6).Draw(t, "low")
		high := low + math.Pow(10, rapid.Float64Range(-3, 7).Draw(t, "span"))
		ticks, decimals := roundSteps(low, high, 6)
		if len(ticks) < 1 || len(ticks) > 8 {
			t.Fatalf("%d ticks", len(ticks))
		}
		seen := map[string]bool{}
		for _, v := range ticks {
			if v < low-(high-low)*1e-6 || v > high+(high-low)*1e-6 {
				t.Fatalf("%v lies outside", v)
			}
			seen[fixed(v, decimals)] = true
		}
		if len(seen) != len(ticks) {
			t.Fatalf("%v with %d decimals are not told apart", ticks, decimals)
		}
	})
	if ticks, _ := roundSteps(1, 1, 5); ticks != nil {
		t.Errorf("no range has ticks: %v", ticks)
	}
}

// Nothing is drawn over a break, and nothing outside of the pieces.
func TestTracesAreBrokenWhereNothingIsKnown(t *testing.T) {
	line := newTimeline([][2]int64{{0, 100}, {200, 300}}, 0, 234)
	points := []analyze.TracePoint{{T: 50, Value: 1}, {T: 150, Value: 2}, {T: 210, Value: 3, Break: true}, {T: 250, Value: 4}, {T: 400, Value: 5, Break: true}}
	var d Drawing
	d.trace(line, axis{low: 0, high: 10, top: 0, bottom: 10}, points, Primary)
	want := []Shape{
		{Kind: Line, Ink: Primary, Points: []Point{{50, 9}, {100, 8.5}}},
		{Kind: Line, Ink: Primary, Points: []Point{{144, 7}, {184, 6}}},
	}
	if diff := cmp.Diff(want, d.Shapes); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

// What is filled with lines stays in its box.
func TestHatchingStaysInItsBox(t *testing.T) {
	var d Drawing
	d.hatch(10, 20, 50, 31, 5, true)
	if len(d.Shapes) < 10 {
		t.Fatalf("only %d lines", len(d.Shapes))
	}
	for _, s := range d.Shapes {
		for _, p := range s.Points {
			if p.X < 10-1e-9 || p.X > 50+1e-9 || p.Y < 20-1e-9 || p.Y > 31+1e-9 {
				t.Errorf("%v lies outside", p)
			}
		}
	}
}

// Each ink has a look of its own: those that are lines differ in width or dashes,
// not in colour alone.
func TestNothingIsToldByColourAlone(t *testing.T) {
	type shape struct {
		width float64
		dash  string
	}
	seen := map[shape]string{}
	for _, ink := range []Ink{Primary, Secondary, Threshold, Limit, Moment, Grid} {
		l := looks[ink]
		var b strings.Builder
		for _, v := range l.dash {
			b.WriteString(number(v) + " ")
		}
		key := shape{l.width, b.String()}
		if other, ok := seen[key]; ok {
			t.Errorf("%s and %s look alike without colour", l.name, other)
		}
		seen[key] = l.name
	}
}

// contrast is the ratio of two colours' relative luminances (WCAG 2.2, from
// memory; at least 4.5 for text and 3 for graphics are its success criteria 1.4.3
// and 1.4.11).
func contrast(a, b [3]int) float64 {
	luminance := func(c [3]int) float64 {
		var v [3]float64
		for i := range c {
			s := float64(c[i]) / 255
			if s <= 0.04045 {
				v[i] = s / 12.92
			} else {
				v[i] = math.Pow((s+0.055)/1.055, 2.4)
			}
		}
		return 0.2126*v[0] + 0.7152*v[1] + 0.0722*v[2]
	}
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func TestTextAndLinesStandOutInLightAndDark(t *testing.T) {
	white, dark := [3]int{255, 255, 255}, [3]int{22, 22, 22}
	for ink, l := range looks {
		least := 4.5
		switch Ink(ink) {
		case Grid, Band:
			continue // nothing is lost where they are not seen
		case Primary, Secondary, Threshold, Limit, Moment, Bar, Hatch, Outline, Mark:
			least = 3
		}
		if c := contrast(l.light, white); c < least {
			t.Errorf("%s on white: %.2f", l.name, c)
		}
		if c := contrast(l.dark, dark); c < least {
			t.Errorf("%s on dark: %.2f", l.name, c)
		}
	}
}

// A line is broken over a text that it would cross, and stumps between two texts are
// left out.
func TestUprightLinesAreBrokenOverTexts(t *testing.T) {
	var d Drawing
	d.upright(Moment, 50, 0, 100, []rect{{40, 60, 60, 72}, {40, 45, 60, 57}, {49, 10, 80, 20}, {51.5, 30, 80, 40}, {0, 90, 49, 100}, {40, 98, 60, 110}})
	want := []Shape{
		{Kind: Line, Ink: Moment, Points: []Point{{50, 0}, {50, 10}}},
		{Kind: Line, Ink: Moment, Points: []Point{{50, 20}, {50, 45}}},
		{Kind: Line, Ink: Moment, Points: []Point{{50, 72}, {50, 98}}},
	}
	if diff := cmp.Diff(want, d.Shapes); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

// A note goes where nothing is in its way: here left of its point, as a trace runs
// to the right of it, and below, as a name stands above.
func TestANoteStandsWhereThereIsRoom(t *testing.T) {
	var d Drawing
	d.line(Primary, Point{100, 50}, Point{200, 30})
	d.line(Primary, Point{100, 50}, Point{200, 70})
	d.text(Quiet, 20, 45, Start, "in the way")
	d.note(Words, Point{100, 50}, 0, 100, 200, "lowest 9 V")
	got := d.Shapes[len(d.Shapes)-1]
	want := Shape{Kind: Text, Ink: Words, Points: []Point{{92, 64}}, Label: "lowest 9 V", Anchor: End, Size: normal}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

func TestLinesBreakBetweenWords(t *testing.T) {
	want := []string{"one two", "three", strings.Repeat("x", 8) + "…"}
	if diff := cmp.Diff(want, lines("one two three "+strings.Repeat("x", 30), 54)); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}
