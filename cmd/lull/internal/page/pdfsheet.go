package page

import (
	"lull/cmd/lull/internal/picture"
	"lull/cmd/lull/internal/words"
)

// sheet sets the one side of paper. The picture of the fault takes what room is left over.
func (p *paper) sheet(s *Sheet, smaller float64) {
	p.scale = smaller
	margin := p.doc.GetCellMargin()
	p.doc.SetCellMargin(0)
	p.text(15, 6.6, "B", s.Title)
	p.head(s.Head)
	p.status(s.Status)
	for _, text := range s.Verdict {
		p.text(11, 5.2, "", text)
		p.down(0.8)
	}
	if s.Measures != nil {
		p.down(2)
		p.fitted(s.Measures.Wide, mostMeasured)
	}
	foot := p.footHeight(s.Cautions)
	if s.Fault != nil {
		p.down(2)
		p.text(9, lineHeight, "B", s.Caption)
		p.down(1)
		if room := pageHeight - pageMargin - foot - p.factsHeight(s.Facts) - 4 - p.doc.GetY(); room >= leastPicture {
			p.fitted(s.Fault.Wide, room)
		}
	}
	p.down(2)
	p.facts(s.Facts)
	p.over = p.doc.GetY() > pageHeight-pageMargin-foot
	p.doc.SetY(pageHeight - pageMargin - foot)
	p.foot(s.Cautions)
	p.doc.SetCellMargin(margin)
}

const (
	mostMeasured  = 60.0 // mm of height for the measures
	leastScale    = 0.55 // of text that is made smaller
	leastPicture  = 28.0 // mm of height at which the picture of a fault can still be read
	signatureRoom = 16.0
	factSize      = 9.0
	cautionSize   = 7.5
	cautionLine   = 3.6
)

func (p *paper) down(by float64) { p.doc.SetY(p.doc.GetY() + by) }

func (p *paper) font(style string, size float64) { p.doc.SetFont(picture.Font, style, size*p.scale) }

func (p *paper) text(size, leading float64, style, text string) {
	p.font(style, size)
	p.doc.MultiCell(textWidth, leading*p.scale, basic(text), "", "L", false)
}

// fitted draws a picture as wide as the text, or as high as there is room.
func (p *paper) fitted(d picture.Drawing, most float64) {
	width := min(textWidth, most*d.Width/d.Height)
	top := p.doc.GetY()
	basicDrawing(d).PDF(p.doc, pageMargin+(textWidth-width)/2, top, width) // which moves the position
	p.doc.SetXY(pageMargin, top+width*d.Height/d.Width)
}

// head sets the fields of the job: long ones over the whole width, short ones three in a row.
func (p *paper) head(items []HeadField) {
	if len(items) == 0 {
		return
	}
	p.down(1)
	p.rule()
	p.down(1)
	const columns, between = 3, 4.0
	column := 0
	top, bottom := p.doc.GetY(), p.doc.GetY()
	for _, v := range items {
		width := (textWidth - (columns-1)*between) / columns
		p.font("", factSize)
		if v.Long || len(p.doc.SplitText(basic(v.Text), width)) > 1 {
			width = textWidth
		}
		if width == textWidth && column > 0 || column == columns {
			column, top = 0, bottom+0.6
		}
		left := pageMargin + float64(column)*(width+between)
		p.doc.SetXY(left, top)
		p.font("", 7)
		p.doc.SetTextColor(85, 85, 85)
		p.doc.CellFormat(width, 3.2*p.scale, basic(v.Term), "", 2, "L", false, 0, "")
		p.doc.SetTextColor(0, 0, 0)
		p.font("", factSize)
		p.doc.SetX(left)
		p.doc.MultiCell(width, lineHeight*p.scale, basic(v.Text), "", "L", false)
		bottom = max(bottom, p.doc.GetY())
		if column++; width == textWidth {
			column, top = 0, bottom+0.6
		}
	}
	p.doc.SetXY(pageMargin, bottom+1)
	p.rule()
}

func (p *paper) rule() {
	p.doc.SetDrawColor(150, 150, 150)
	p.doc.SetLineWidth(0.3)
	p.doc.Line(pageMargin, p.doc.GetY(), pageMargin+textWidth, p.doc.GetY())
}

// status sets what is seen at arm's length, in colour or without: white on dark where
// something is wrong, a broken frame where care is to be taken, a plain one else.
func (p *paper) status(w words.Word) {
	const size, high = 15.0, 10.0
	p.down(2.5)
	p.doc.SetFont(picture.Font, "B", size)
	for n := size; p.doc.GetStringWidth(basic(w.Text)) > textWidth-6 && n > 8; n-- {
		p.doc.SetFontSize(n)
	}
	p.doc.SetDrawColor(0, 0, 0)
	p.doc.SetLineWidth(0.9)
	style := "D"
	switch w.Tone {
	case words.Bad:
		p.doc.SetFillColor(110, 20, 0)
		p.doc.SetTextColor(255, 255, 255)
		style = "F"
	case words.Doubtful:
		p.doc.SetDashPattern([]float64{3, 2}, 0)
	}
	top := p.doc.GetY()
	p.doc.Rect(pageMargin, top, textWidth, high, style)
	p.doc.SetDashPattern([]float64{}, 0)
	p.doc.SetXY(pageMargin+2, top)
	p.doc.CellFormat(textWidth-4, high, basic(w.Text), "", 0, "L", false, 0, "")
	p.doc.SetTextColor(0, 0, 0)
	p.doc.SetXY(pageMargin, top+high+2)
}

// factsHeight is how high the facts will be.
func (p *paper) factsHeight(facts []Item) float64 {
	height := 0.0
	p.font("B", factSize) // which is wider than what it will be set in
	for _, v := range facts {
		height += float64(len(p.doc.SplitText(basic(v.Term+": "+v.Text), textWidth)))*lineHeight*p.scale + 0.8
	}
	return height
}

// facts say what was driven and how sure it is.
func (p *paper) facts(facts []Item) {
	for _, v := range facts {
		p.doc.SetX(pageMargin)
		p.font("B", factSize)
		p.doc.Write(lineHeight*p.scale, basic(v.Term)+": ")
		p.font("", factSize)
		p.doc.Write(lineHeight*p.scale, basic(v.Text))
		p.doc.Ln(lineHeight*p.scale + 0.8)
	}
}

// footHeight is how high the foot of a sheet will be.
func (p *paper) footHeight(cautions []string) float64 {
	height := signatureRoom + 1
	p.font("", cautionSize)
	for _, text := range cautions {
		height += float64(len(p.doc.SplitText(basic(text), textWidth))) * cautionLine * p.scale
	}
	return height
}

// foot sets the cautions and room for a signature.
func (p *paper) foot(cautions []string) {
	p.rule()
	p.down(1)
	for _, text := range cautions {
		p.text(cautionSize, cautionLine, "", text)
	}
	y := pageHeight - pageMargin - 3.5
	p.doc.SetDrawColor(0, 0, 0)
	p.doc.SetLineWidth(0.3)
	p.doc.SetFont(picture.Font, "", 7)
	for _, line := range []struct {
		name        string
		left, right float64
	}{{"Date", 0, 50}, {"Signature", 60, textWidth}} {
		p.doc.Line(pageMargin+line.left, y, pageMargin+line.right, y)
		p.doc.Text(pageMargin+line.left, y+3, line.name)
	}
}
