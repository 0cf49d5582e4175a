package page

import (
	"bytes"
	"errors"
	"io"
	"strconv"
	"strings"
	"time"

	"codeberg.org/go-fonts/dejavu/dejavusanscondensed"
	"codeberg.org/go-fonts/dejavu/dejavusanscondensedbold"
	"codeberg.org/go-pdf/fpdf"

	"lull/cmd/lull/internal/picture"
	"lull/cmd/lull/internal/table"
	"lull/cmd/lull/internal/words"
)

// The page is as wide as A4 and as high as Letter, in mm, so that it prints on either
// unscaled.
const (
	pageWidth   = 210.0
	pageHeight  = 279.0
	pageMargin  = 14.0
	textWidth   = pageWidth - 2*pageMargin
	lineHeight  = 4.4
	textSize    = 9.0 // points
	tableSize   = 7.5
	leastSize   = 6.2
	leastFigure = 0.82 // of the usual width of a picture
	tableHeight = 3.7
	cellGap     = 2.2
	pageBottom  = pageHeight - pageMargin - 6
)

// paper is a PDF being made.
type paper struct {
	doc     *fpdf.Fpdf
	closer  float64 // than usual: 1, or somewhat less
	smaller float64 // than usual are the pictures of the card: 1, or somewhat less
	scale   float64 // of the text of the sheet
	over    bool    // the sheet has no room for all of its text
}

// WritePDF writes what WriteHTML writes, as PDF with text that can be selected. Characters
// that the font lacks are shown as its sign for missing ones. It is not tagged, as the library
// has no tags.
func (r *Report) WritePDF(w io.Writer) error {
	sheet := r.Sheet()
	var sections []Section
	if r.Full {
		sections = r.Sections()
	}
	smaller := 1.0
	p := r.paper(sheet, smaller, sections, 1)
	for p.over && smaller > leastScale {
		smaller -= 0.1
		p = r.paper(sheet, smaller, sections, 1)
	}
	// A last page with hardly anything on it is drawn in by setting all a little closer.
	for closer := 0.97; p.doc.PageNo() > 2 && p.doc.GetY() < pageHeight/4 && closer > 0.85; closer -= 0.03 {
		if next := r.paper(sheet, smaller, sections, closer); next.doc.PageNo() < p.doc.PageNo() {
			p = next
			break
		}
	}
	var b bytes.Buffer
	if err := p.doc.Output(&b); err != nil {
		return errors.Join(errors.New("the PDF could not be made"), err)
	}
	pdf := b.Bytes()
	if _, dated := r.dated(); !dated {
		pdf = withoutDates(pdf)
	}
	_, err := w.Write(pdf)
	return err
}

// dated returns the date of the sheet if the user gave one that is a date for programs too.
func (r *Report) dated() (time.Time, bool) {
	date, err := time.Parse(time.DateOnly, strings.TrimSpace(r.Date))
	return date, err == nil
}

// paper sets the sheet, as small as is said, and after it the sections, as close as is said.
func (r *Report) paper(sheet *Sheet, smaller float64, sections []Section, closer float64) *paper {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: pageWidth, Ht: pageHeight}})
	doc.AddUTF8FontFromBytes(picture.Font, "", dejavusanscondensed.TTF)
	doc.AddUTF8FontFromBytes(picture.Font, "B", dejavusanscondensedbold.TTF)
	doc.SetMargins(pageMargin, pageMargin, pageMargin)
	doc.SetTitle(basic(r.Heading()), true)
	doc.SetProducer("lull "+r.After.Version, true)
	doc.SetLang("en")
	if r.Workshop != "" {
		doc.SetAuthor(basic(words.Visible(r.Workshop)), true)
	}
	date, dated := r.dated()
	if !dated {
		// The same logs must give the same bytes: no date but that of the sheet.
		date = undated
		if r.Date != "" {
			doc.SetSubject(basic(words.Visible(r.Date)), true)
		}
	}
	doc.SetCatalogSort(true)
	doc.SetCreationDate(date)
	doc.SetModificationDate(date)
	p := &paper{doc: doc, closer: closer}
	doc.SetAutoPageBreak(false, 0)
	doc.AddPage()
	p.sheet(sheet, smaller)
	if len(sections) == 0 {
		return p
	}
	doc.SetAutoPageBreak(true, pageMargin+6)
	doc.AliasNbPages("{pages}")
	doc.SetFooterFunc(func() {
		if doc.PageNo() == 1 { // the sheet stands by itself
			return
		}
		doc.SetY(-pageMargin - 2)
		doc.SetFont(picture.Font, "", 7)
		doc.SetTextColor(85, 85, 85)
		doc.CellFormat(textWidth-24, 4, basic(r.Heading()), "", 0, "L", false, 0, "")
		doc.CellFormat(24, 4, strconv.Itoa(doc.PageNo())+" of {pages}", "", 0, "R", false, 0, "")
		doc.SetTextColor(0, 0, 0)
	})
	doc.AddPage()
	for i := range sections {
		p.section(&sections[i])
	}
	return p
}

// undated stands in for the creation dates, which the library always writes.
var undated = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// withoutDates removes the creation dates from a PDF: a report has no date but those of its
// logs and that which the user gives it. Spaces take their place, as every object of the file is found by its offset.
func withoutDates(pdf []byte) []byte {
	for _, key := range []string{"CreationDate", "ModDate"} {
		entry := []byte("/" + key + " (D:" + undated.Format("20060102150405") + ")")
		if i := bytes.LastIndex(pdf, entry); i >= 0 {
			copy(pdf[i:], bytes.Repeat([]byte(" "), len(entry)))
		}
	}
	return pdf
}

// basic replaces characters beyond the Basic Multilingual Plane, which the library cannot
// typeset.
func basic(s string) string {
	return strings.Map(func(r rune) rune {
		if r > 0xFFFF {
			return '\uFFFD'
		}
		return r
	}, s)
}

// need begins a new page if less than height is left on this one.
func (p *paper) need(height float64) {
	if p.doc.GetY()+height > pageBottom && p.doc.GetY() > pageMargin+1 {
		p.doc.AddPage()
	}
}

func (p *paper) section(section *Section) {
	size, before := 12.0, 4.0
	if section.Level > 2 {
		size, before = 10, 3
	}
	room, figures := 24.0, 0.0
	if section.Card { // kept together if a page can hold it
		room = 12
		for _, b := range section.Blocks {
			room += float64(len(b.List)) * (lineHeight + 0.5)
			if b.Figure != nil {
				figures += height(b.Figure)
			}
			if b.Grid != nil {
				room += float64(len(b.Grid.Rows)/2+4) * (tableHeight + 0.5)
			}
		}
		// A picture is made a little smaller where the card then fits below what is there.
		p.smaller = 1
		if left := pageBottom - p.doc.GetY(); room+figures > left && room+figures*leastFigure <= left {
			p.smaller = (left - room) / figures
		}
		room += figures * p.smaller
	}
	p.need(min(room, pageHeight-2*pageMargin-10))
	p.doc.SetY(p.doc.GetY() + before)
	p.doc.SetFont(picture.Font, "B", size)
	p.doc.Bookmark(basic(section.Title), section.Level-2, -1)
	p.doc.MultiCell(textWidth, size*0.5, basic(section.Title), "", "L", false)
	if section.Level == 2 {
		p.doc.SetDrawColor(150, 150, 150)
		p.doc.SetLineWidth(0.3)
		p.doc.Line(pageMargin, p.doc.GetY()+0.6, pageMargin+textWidth, p.doc.GetY()+0.6)
	}
	p.doc.SetY(p.doc.GetY() + 1.8)
	for i := range section.Blocks {
		p.block(&section.Blocks[i], section.Card)
	}
}

func (p *paper) block(b *Block, card bool) {
	switch {
	case b.Figure != nil:
		width := textWidth
		if card {
			width *= p.smaller
		}
		h := height(b.Figure) * width / textWidth
		p.need(h)
		top := p.doc.GetY()
		basicDrawing(b.Figure.Wide).PDF(p.doc, pageMargin, top, width) // which moves the position
		p.doc.SetXY(pageMargin, top+h+2)
	case b.Grid != nil:
		p.grid(b.Grid, card)
	case len(b.List) > 0:
		p.list(b.List)
	default:
		size, leading := textSize, lineHeight
		if b.Strong {
			size, leading = 11, 5.4
		}
		p.doc.SetFont(picture.Font, "", size)
		p.doc.MultiCell(textWidth, leading*p.closer, basic(b.Paragraph), "", "L", false)
		p.doc.SetY(p.doc.GetY() + 1.2)
	}
}

// basicDrawing returns a picture with text that the library can typeset.
func basicDrawing(d picture.Drawing) *picture.Drawing {
	d.Shapes = append([]picture.Shape(nil), d.Shapes...)
	for i := range d.Shapes {
		d.Shapes[i].Label = basic(d.Shapes[i].Label)
	}
	return &d
}

func height(f *Figure) float64 { return f.Wide.Height / f.Wide.Width * textWidth }

func (p *paper) list(items []Item) {
	for _, v := range items {
		p.need(lineHeight * p.closer)
		p.doc.SetX(pageMargin)
		p.doc.SetLeftMargin(pageMargin + 3.5)
		p.doc.SetFont(picture.Font, "", textSize)
		p.doc.SetX(pageMargin)
		p.doc.CellFormat(3.5, lineHeight*p.closer, "•", "", 0, "L", false, 0, "")
		if v.Term != "" {
			p.doc.SetFont(picture.Font, "B", textSize)
			p.doc.Write(lineHeight*p.closer, basic(v.Term)+"  ")
			p.doc.SetFont(picture.Font, "", textSize)
		}
		p.doc.Write(lineHeight*p.closer, basic(v.Text))
		p.doc.Ln(lineHeight*p.closer + 0.5)
		p.doc.SetLeftMargin(pageMargin)
	}
	p.doc.SetXY(pageMargin, p.doc.GetY()+1)
}

// printed is a grid as it is printed: which columns, how wide, and from where.
type printed struct {
	*table.Grid
	columns []int
	widths  []float64
	left    float64
	size    float64 // of the text, in points
}

// grid prints a table. A long one of few columns is printed in two halves side by side.
func (p *paper) grid(g *table.Grid, halves bool) {
	room := textWidth
	if halves {
		room = textWidth/2 - 2
	}
	t := printed{Grid: g, left: pageMargin}
	p.columns(&t, room)
	head := make([]words.Word, len(g.Columns))
	for i, c := range g.Columns {
		head[i].Text = c.Title
	}
	if !halves {
		p.need(3 * tableHeight)
		p.row(&t, head, "B")
		for _, row := range g.Rows {
			if p.doc.GetY()+2*tableHeight > pageBottom {
				p.doc.AddPage()
				p.row(&t, head, "B")
			}
			p.row(&t, row, "")
		}
		p.doc.SetXY(pageMargin, p.doc.GetY()+2)
		return
	}
	half := (len(g.Rows) + 1) / 2
	p.need(float64(half+4) * (tableHeight + 0.5))
	top, bottom := p.doc.GetY(), 0.0
	for k, rows := range [][][]words.Word{g.Rows[:half], g.Rows[half:]} {
		t.left = pageMargin + float64(k)*(textWidth/2+2)
		p.doc.SetY(top)
		p.row(&t, head, "B")
		for _, row := range rows {
			p.row(&t, row, "")
		}
		bottom = max(bottom, p.doc.GetY())
	}
	p.doc.SetXY(pageMargin, bottom+2)
}

// columns decides which columns of a table are printed and how wide: as wide as their
// widest cell. If that is too much, the text is made smaller as far as it stays readable;
// then columns are left out, those of the highest rank first; and then the cells of the
// widest remaining columns are wrapped.
func (p *paper) columns(t *printed, room float64) {
	t.size = tableSize
	t.widths = make([]float64, len(t.Columns))
	total := 0.0
	for i := range t.widths {
		t.columns = append(t.columns, i)
		p.doc.SetFont(picture.Font, "B", tableSize)
		t.widths[i] = p.doc.GetStringWidth(basic(t.Columns[i].Title))
		for _, row := range t.Rows {
			t.widths[i] = max(t.widths[i], p.doc.GetStringWidth(basic(row[i].Text)))
		}
		t.widths[i] += cellGap
		total += t.widths[i]
	}
	if smaller := max(room/total, leastSize/tableSize); smaller < 1 {
		t.size *= smaller
		for i := range t.widths {
			t.widths[i] *= smaller
		}
		total *= smaller
	}
	const slack = 1e-6 // of rounding
	for total > room+slack && len(t.columns) > 3 {
		worst := 0
		for k, i := range t.columns {
			if t.Columns[i].Rank >= t.Columns[t.columns[worst]].Rank {
				worst = k
			}
		}
		total -= t.widths[t.columns[worst]]
		t.columns = append(t.columns[:worst], t.columns[worst+1:]...)
	}
	for range t.columns {
		widest := t.columns[0]
		for _, i := range t.columns {
			if t.widths[i] > t.widths[widest] {
				widest = i
			}
		}
		if total > room+slack {
			less := min(total-room, t.widths[widest]*0.6)
			t.widths[widest] -= less
			total -= less
		}
	}
}

// row prints one row, as high as its highest cell, with a line below.
func (p *paper) row(t *printed, row []words.Word, style string) {
	top := p.doc.GetY()
	leading := tableHeight * p.closer
	bottom := top + leading
	x := t.left
	margin := p.doc.GetCellMargin()
	p.doc.SetCellMargin(0) // cellGap is all the room between columns
	for _, i := range t.columns {
		cellStyle := style
		if row[i].Tone == words.Bad || row[i].Tone == words.Doubtful {
			cellStyle = "B"
		}
		p.doc.SetFont(picture.Font, cellStyle, t.size)
		align := "L"
		if t.Columns[i].Right {
			align = "R"
		}
		for k, line := range p.doc.SplitText(basic(row[i].Text), t.widths[i]+0.6) {
			p.doc.SetXY(x, top+float64(k)*leading)
			p.doc.CellFormat(t.widths[i]-cellGap, leading, line, "", 0, align, false, 0, "")
			bottom = max(bottom, top+float64(k+1)*leading)
		}
		x += t.widths[i]
	}
	p.doc.SetCellMargin(margin)
	p.doc.SetDrawColor(200, 200, 200)
	p.doc.SetLineWidth(0.15)
	p.doc.Line(t.left, bottom+0.2, x-cellGap, bottom+0.2)
	p.doc.SetXY(t.left, bottom+0.5)
}
