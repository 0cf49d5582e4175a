package picture

import (
	"bytes"
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"
)

// CSS returns the style sheet that SVG needs in the page around it. Colours follow the
// reader's choice of light or dark; prints are light.
func CSS() string {
	var b strings.Builder
	b.WriteString(".pic{display:block;width:100%;height:auto;font:11px \"DejaVu Sans Condensed\",\"Noto Sans\",Arial,sans-serif}\n")
	b.WriteString(".pic path{fill:none}.pic .e{text-anchor:end}.pic .c{text-anchor:middle}\n")
	for _, l := range looks {
		fmt.Fprintf(&b, ".pic path.%s{stroke:%s;stroke-width:%s", l.name, hex(l.light), number(max(l.width, 0.5)))
		if len(l.dash) > 0 {
			b.WriteString(";stroke-dasharray:")
			for i, d := range l.dash {
				if i > 0 {
					b.WriteByte(' ')
				}
				b.WriteString(number(d))
			}
		}
		fmt.Fprintf(&b, "}.pic .f%s{fill:%s}.pic text.%s{fill:%s", l.name, hex(l.light), l.name, hex(l.light))
		if l.bold {
			b.WriteString(";font-weight:bold")
		}
		b.WriteString("}\n")
	}
	b.WriteString("@media screen and (prefers-color-scheme:dark){\n")
	for _, l := range looks {
		fmt.Fprintf(&b, ".pic path.%s{stroke:%s}.pic .f%s,.pic text.%s{fill:%s}\n", l.name, hex(l.dark), l.name, l.name, hex(l.dark))
	}
	b.WriteString("}\n")
	return b.String()
}

func hex(c [3]int) string { return fmt.Sprintf("#%02x%02x%02x", c[0], c[1], c[2]) }

// SVG returns the drawing for a page that has CSS. Its text is escaped.
func (d *Drawing) SVG() []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg class="pic" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %s %s" role="img"><title>%s</title>`,
		number(d.Width), number(d.Height), html.EscapeString(d.Title))
	if d.Description != "" {
		fmt.Fprintf(&b, "<desc>%s</desc>", html.EscapeString(d.Description))
	}
	for i := 0; i < len(d.Shapes); i++ {
		s := &d.Shapes[i]
		switch s.Kind {
		case Text:
			class := looks[s.Ink].name + [...]string{"", " c", " e"}[s.Anchor]
			fmt.Fprintf(&b, `<text class="%s" x="%s" y="%s">%s</text>`, class, number(s.Points[0].X), number(s.Points[0].Y), html.EscapeString(s.Label))
		case Area:
			fmt.Fprintf(&b, `<polygon class="f%s" points="`, looks[s.Ink].name)
			for k, p := range s.Points {
				if k > 0 {
					b.WriteByte(' ')
				}
				b.WriteString(number(p.X) + "," + number(p.Y))
			}
			b.WriteString(`"/>`)
		case Line:
			fmt.Fprintf(&b, `<path class="%s" d="`, looks[s.Ink].name)
			path(&b, s.Points)
			// Lines of one ink that follow each other are one path.
			for i+1 < len(d.Shapes) && d.Shapes[i+1].Kind == Line && d.Shapes[i+1].Ink == s.Ink {
				i++
				path(&b, d.Shapes[i].Points)
			}
			b.WriteString(`"/>`)
		}
	}
	b.WriteString("</svg>")
	return b.Bytes()
}

// path writes a line: its first point absolute, each further one relative to the one
// before. Steps are whole tenths of a pixel, so that rounding does not accumulate.
func path(b *bytes.Buffer, points []Point) {
	var x, y, steps int
	for i, p := range points {
		nextX, nextY := tenths(p.X), tenths(p.Y)
		switch {
		case i == 0:
			fmt.Fprintf(b, "M%s %s", number(p.X), number(p.Y))
		case nextX == x && nextY == y:
			// no step
		default:
			if steps++; steps == 1 {
				b.WriteByte('l')
			} else {
				b.WriteByte(' ')
			}
			b.WriteString(strings.ReplaceAll(decimal(nextX-x)+" "+decimal(nextY-y), " -", "-"))
		}
		x, y = nextX, nextY
	}
}

func tenths(v float64) int { return int(math.Round(v * 10)) }

// decimal formats tenths as short as possible.
func decimal(n int) string {
	s := strings.TrimSuffix(strconv.FormatFloat(float64(n)/10, 'f', 1, 64), ".0")
	if digits, ok := strings.CutPrefix(s, "0."); ok {
		return "." + digits
	}
	if digits, ok := strings.CutPrefix(s, "-0."); ok {
		return "-." + digits
	}
	return s
}

// number formats a length to a tenth of a pixel.
func number(v float64) string {
	s := strings.TrimSuffix(strconv.FormatFloat(v, 'f', 1, 64), ".0")
	if s == "-0" {
		return "0"
	}
	return s
}
