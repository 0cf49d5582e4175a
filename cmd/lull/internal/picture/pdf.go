package picture

import "codeberg.org/go-pdf/fpdf"

// Font is the family that PDF uses; the document must have it, in the styles "" and "B".
const Font = "text"

// PDF draws into a document whose unit is the millimetre, with the upper left corner at x,
// y.
func (d *Drawing) PDF(doc *fpdf.Fpdf, x, y, width float64) {
	scale := width / d.Width
	const pointsPerMillimetre = 72 / 25.4
	at := func(p Point) (float64, float64) { return x + p.X*scale, y + p.Y*scale }
	doc.SetLineCapStyle("butt")
	doc.SetLineJoinStyle("round")
	for i := range d.Shapes {
		s := &d.Shapes[i]
		l := &looks[s.Ink]
		r, g, b := l.light[0], l.light[1], l.light[2]
		switch s.Kind {
		case Text:
			style := ""
			if l.bold {
				style = "B"
			}
			doc.SetFont(Font, style, s.Size*scale*pointsPerMillimetre)
			doc.SetTextColor(r, g, b)
			left, base := at(s.Points[0])
			switch s.Anchor {
			case Middle:
				left -= doc.GetStringWidth(s.Label) / 2
			case End:
				left -= doc.GetStringWidth(s.Label)
			}
			doc.Text(left, base, s.Label)
		case Area:
			doc.SetFillColor(r, g, b)
			points := make([]fpdf.PointType, len(s.Points))
			for k, p := range s.Points {
				points[k].X, points[k].Y = at(p)
			}
			doc.Polygon(points, "F")
		case Line:
			doc.SetDrawColor(r, g, b)
			doc.SetLineWidth(max(l.width, 0.5) * scale)
			dashes := make([]float64, len(l.dash))
			for k, v := range l.dash {
				dashes[k] = v * scale
			}
			doc.SetDashPattern(dashes, 0)
			doc.MoveTo(at(s.Points[0]))
			for _, p := range s.Points[1:] {
				doc.LineTo(at(p))
			}
			doc.DrawPath("D")
		}
	}
	doc.SetDashPattern([]float64{}, 0)
	doc.SetTextColor(0, 0, 0)
}
