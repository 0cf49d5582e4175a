// Package picture draws what the analysis found: an episode, a standstill, a drive, the two
// sides of a comparison. It describes each drawing once, as a list of shapes drawn in inks
// that have a meaning, and has two backends for that description: SVG and PDF. It measures
// nothing and opens nothing. Nothing in a drawing is told by colour alone: lines differ in
// their dashes, areas in their hatching, and each has its name beside it. Start with
// Episode.
package picture

import "unicode/utf8"

// Drawing is a list of shapes, the later ones over the earlier ones, on a sheet
// whose upper left corner is 0, 0. The unit is a CSS pixel, 1/96 inch.
type Drawing struct {
	Title         string // what it shows, for those who cannot see it
	Description   string
	Width, Height float64
	Shapes        []Shape
}

// Kind is what a Shape is.
type Kind uint8

const (
	Line Kind = iota // through Points
	Area             // the inside of Points
	Text             // Label, at the one point
)

// Shape is one element of a drawing.
type Shape struct {
	Kind   Kind
	Ink    Ink
	Points []Point
	Label  string
	Anchor Anchor
	Size   float64 // of the text, in px; 0: of no text
}

// Point is a place on the sheet.
type Point struct{ X, Y float64 }

// Anchor says which part of a text is at its point.
type Anchor uint8

const (
	Start Anchor = iota
	Middle
	End
)

// Ink is the meaning of a shape, which determines its look.
type Ink uint8

const (
	Words     Ink = iota // text
	Heading              // text that names a part of the drawing
	Quiet                // text and lines in the background
	Grid                 // lines that help the eye
	Primary              // the main trace
	Secondary            // a further trace in the same plot
	Threshold            // a setting of the analysis
	Limit                // a limit of the map
	Band                 // between the bounds of an instant
	Moment               // the best value of an instant
	Bar                  // what was true
	Hatch                // lines that fill what is unknown or missing
	Outline              // around what is hatched or open
	Mark                 // a highlight
	Failure              // what went wrong
	InkCount
)

// look is how an ink is drawn. The colours are some of those that M. Okabe and K.
// Ito chose so that people of any colour vision tell them apart (Color Universal
// Design, 2008); they differ in lightness too.
type look struct {
	name        string // of the class in SVG
	light, dark [3]int // colour on white and on black
	width       float64
	dash        []float64
	bold        bool
}

var looks = [InkCount]look{
	Words:     {name: "w", light: [3]int{28, 28, 28}, dark: [3]int{235, 235, 235}},
	Heading:   {name: "h", light: [3]int{0, 0, 0}, dark: [3]int{255, 255, 255}, bold: true},
	Quiet:     {name: "q", light: [3]int{85, 85, 85}, dark: [3]int{180, 180, 180}, width: 0.8},
	Grid:      {name: "g", light: [3]int{214, 214, 214}, dark: [3]int{70, 70, 70}, width: 0.6},
	Primary:   {name: "p", light: [3]int{0, 90, 145}, dark: [3]int{86, 180, 233}, width: 1.5},
	Secondary: {name: "s", light: [3]int{176, 72, 0}, dark: [3]int{240, 150, 80}, width: 1.5, dash: []float64{5, 2}},
	Threshold: {name: "t", light: [3]int{85, 85, 85}, dark: [3]int{180, 180, 180}, width: 0.9, dash: []float64{2, 3}},
	Limit:     {name: "l", light: [3]int{0, 0, 0}, dark: [3]int{255, 255, 255}, width: 1.3, dash: []float64{9, 3, 2, 3}},
	Band:      {name: "b", light: [3]int{246, 228, 178}, dark: [3]int{92, 72, 14}},
	Moment:    {name: "m", light: [3]int{70, 70, 70}, dark: [3]int{200, 200, 200}, width: 0.9},
	Bar:       {name: "r", light: [3]int{0, 104, 80}, dark: [3]int{60, 190, 150}},
	Hatch:     {name: "x", light: [3]int{60, 60, 60}, dark: [3]int{190, 190, 190}, width: 0.7},
	Outline:   {name: "o", light: [3]int{60, 60, 60}, dark: [3]int{190, 190, 190}, width: 0.8},
	Failure:   {name: "f", light: [3]int{150, 30, 0}, dark: [3]int{255, 130, 95}, width: 1.1, bold: true},
	Mark:      {name: "k", light: [3]int{0, 0, 0}, dark: [3]int{255, 255, 255}, width: 1.1},
}

// normal is the size of most text.
const normal = 11

func (d *Drawing) line(ink Ink, points ...Point) {
	if len(points) > 1 {
		d.Shapes = append(d.Shapes, Shape{Kind: Line, Ink: ink, Points: points})
	}
}

func (d *Drawing) box(kind Kind, ink Ink, left, top, right, bottom float64) {
	corners := []Point{{left, top}, {right, top}, {right, bottom}, {left, bottom}}
	if kind == Line {
		corners = append(corners, corners[0])
	}
	d.Shapes = append(d.Shapes, Shape{Kind: kind, Ink: ink, Points: corners})
}

func (d *Drawing) text(ink Ink, x, y float64, anchor Anchor, label string) {
	if label != "" {
		d.Shapes = append(d.Shapes, Shape{Kind: Text, Ink: ink, Points: []Point{{x, y}}, Label: label, Anchor: anchor, Size: normal})
	}
}

// hatch fills a box with slanting lines, crossed on request. Lines are used since only one
// of the backends has patterns.
func (d *Drawing) hatch(left, top, right, bottom, step float64, crossed bool) {
	height := bottom - top
	slant := func(at func(x float64) (Point, Point)) {
		for x := left - height + step; x < right; x += step {
			a, b := at(x)
			if a, b, ok := between(a, b, left, right); ok {
				d.line(Hatch, a, b)
			}
		}
	}
	slant(func(x float64) (Point, Point) { return Point{x, bottom}, Point{x + height, top} })
	if crossed {
		slant(func(x float64) (Point, Point) { return Point{x, top}, Point{x + height, bottom} })
	}
}

// between clips a line at two vertical ones.
func between(a, b Point, left, right float64) (Point, Point, bool) {
	if a.X > b.X {
		b, a, ok := between(b, a, left, right)
		return a, b, ok
	}
	if b.X < left || a.X > right {
		return a, b, false
	}
	rise := 0.0
	if b.X > a.X {
		rise = (b.Y - a.Y) / (b.X - a.X)
	}
	from, to := a, b
	if a.X < left {
		from = Point{left, a.Y + (left-a.X)*rise}
	}
	if b.X > right {
		to = Point{right, a.Y + (right-a.X)*rise}
	}
	return from, to, true
}

// wide estimates the width of a text. No backend is asked, so that both draw alike.
func wide(label string) float64 { return float64(utf8.RuneCountInString(label)) * normal * 0.53 }

// fitting shortens a text that is wider than the room for it.
func fitting(label string, room float64) string {
	if wide(label) <= room {
		return label
	}
	runes := []rune(label)
	n := int(room/(normal*0.53)) - 1
	if n < 1 {
		return ""
	}
	return string(runes[:min(n, len(runes))]) + "…"
}
