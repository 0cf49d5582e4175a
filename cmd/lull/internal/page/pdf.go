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
	tableHeight = 3.7
	cellGap     = 2.2
	pageBottom  = pageHeight - pageMargin - 6
)

// sheet is a PDF being made.
type sheet struct {
	doc *fpdf.Fpdf
}

// WritePDF writes what WriteHTML writes, as PDF with text that can be selected. Characters
// that the font lacks are shown as its sign for missing ones.
func (r *Report) WritePDF(w io.Writer) error {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: pageWidth, Ht: pageHeight}})
	doc.AddUTF8FontFromBytes(picture.Font, "", dejavusanscondensed.TTF)
	doc.AddUTF8FontFromBytes(picture.Font, "B", dejavusanscondensedbold.TTF)
	doc.SetMargins(pageMargin, pageMargin, pageMargin)
	doc.SetAutoPageBreak(true, pageMargin+6)
	doc.SetTitle(basic(r.Heading()), true)
	doc.SetProducer("lull "+r.After.Version, true)
	doc.SetLang("en")
	// The same logs must give the same bytes: no creation date, lists in order.
	doc.SetCatalogSort(true)
	doc.SetCreationDate(undated)
	doc.SetModificationDate(undated)
	doc.AliasNbPages("{pages}")
	doc.SetFooterFunc(func() {
		doc.SetY(-pageMargin - 2)
		doc.SetFont(picture.Font, "", 7)
		doc.SetTextColor(85, 85, 85)
		doc.CellFormat(textWidth-24, 4, basic(r.Heading()), "", 0, "L", false, 0, "")
		doc.CellFormat(24, 4, strconv.Itoa(doc.PageNo())+" of {pages}", "", 0, "R", false, 0, "")
		doc.SetTextColor(0, 0, 0)
	})
	s := &sheet{doc}
	doc.AddPage()
	doc.SetFont(picture.Font, "B", 15)
	doc.MultiCell(textWidth, 7, basic(r.Heading()), "", "L", false)
	for _, section := range r.Sections() {
		s.section(&section)
	}
	var b bytes.Buffer
	if err := doc.Output(&b); err != nil {
		return errors.Join(errors.New("the PDF could not be made"), err)
	}
	_, err := w.Write(withoutDates(b.Bytes()))
	return err
}

// undated stands in for the creation dates, which the library always writes.
var undated = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// withoutDates removes the creation dates from a PDF: a report has no date but those of its
// logs. Spaces take their place, as every object of the file is found by its offset.
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
func (s *sheet) need(height float64) {
	if s.doc.GetY()+height > pageBottom && s.doc.GetY() > pageMargin+1 {
		s.doc.AddPage()
	}
}

func (s *sheet) section(section *Section) {
	size, before := 12.0, 4.0
	if section.Level > 2 {
		size, before = 10, 3
	}
	room := 24.0
	for _, b := range section.Blocks {
		if section.Card { // kept together if a page can hold it
			room += float64(len(b.List)) * (lineHeight + 0.5)
			if b.Figure != nil {
				room += height(b.Figure)
			}
			if b.Grid != nil {
				room += float64(len(b.Grid.Rows)/2+6) * (tableHeight + 0.5)
			}
		}
	}
	s.need(min(room, pageHeight-2*pageMargin-10))
	s.doc.SetY(s.doc.GetY() + before)
	s.doc.SetFont(picture.Font, "B", size)
	s.doc.Bookmark(basic(section.Title), section.Level-2, -1)
	s.doc.MultiCell(textWidth, size*0.5, basic(section.Title), "", "L", false)
	if section.Level == 2 {
		s.doc.SetDrawColor(150, 150, 150)
		s.doc.SetLineWidth(0.3)
		s.doc.Line(pageMargin, s.doc.GetY()+0.6, pageMargin+textWidth, s.doc.GetY()+0.6)
	}
	s.doc.SetY(s.doc.GetY() + 1.8)
	for i := range section.Blocks {
		s.block(&section.Blocks[i], section.Card)
	}
}

func (s *sheet) block(b *Block, card bool) {
	switch {
	case b.Figure != nil:
		h := height(b.Figure)
		s.need(h)
		top := s.doc.GetY()
		b.basic().PDF(s.doc, pageMargin, top, textWidth) // which moves the position
		s.doc.SetXY(pageMargin, top+h+2)
	case b.Grid != nil:
		s.grid(b.Grid, card)
	case len(b.List) > 0:
		s.list(b.List)
	default:
		size, leading := textSize, lineHeight
		if b.Strong {
			size, leading = 11, 5.4
		}
		s.doc.SetFont(picture.Font, "", size)
		s.doc.MultiCell(textWidth, leading, basic(b.Paragraph), "", "L", false)
		s.doc.SetY(s.doc.GetY() + 1.2)
	}
}

// basic returns the wide picture with text that the library can typeset.
func (b *Block) basic() *picture.Drawing {
	d := b.Figure.Wide
	d.Shapes = append([]picture.Shape(nil), d.Shapes...)
	for i := range d.Shapes {
		d.Shapes[i].Label = basic(d.Shapes[i].Label)
	}
	return &d
}

func height(f *Figure) float64 { return f.Wide.Height / f.Wide.Width * textWidth }

func (s *sheet) list(items []Item) {
	for _, v := range items {
		s.need(lineHeight)
		s.doc.SetX(pageMargin)
		s.doc.SetLeftMargin(pageMargin + 3.5)
		s.doc.SetFont(picture.Font, "", textSize)
		s.doc.SetX(pageMargin)
		s.doc.CellFormat(3.5, lineHeight, "•", "", 0, "L", false, 0, "")
		if v.Term != "" {
			s.doc.SetFont(picture.Font, "B", textSize)
			s.doc.Write(lineHeight, basic(v.Term)+"  ")
			s.doc.SetFont(picture.Font, "", textSize)
		}
		s.doc.Write(lineHeight, basic(v.Text))
		s.doc.Ln(lineHeight + 0.5)
		s.doc.SetLeftMargin(pageMargin)
	}
	s.doc.SetXY(pageMargin, s.doc.GetY()+1)
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
func (s *sheet) grid(g *table.Grid, halves bool) {
	room := textWidth
	if halves {
		room = textWidth/2 - 2
	}
	t := printed{Grid: g, left: pageMargin}
	s.columns(&t, room)
	head := make([]words.Word, len(g.Columns))
	for i, c := range g.Columns {
		head[i].Text = c.Title
	}
	if !halves {
		s.need(3 * tableHeight)
		s.row(&t, head, "B")
		for _, row := range g.Rows {
			if s.doc.GetY()+2*tableHeight > pageBottom {
				s.doc.AddPage()
				s.row(&t, head, "B")
			}
			s.row(&t, row, "")
		}
		s.doc.SetXY(pageMargin, s.doc.GetY()+2)
		return
	}
	half := (len(g.Rows) + 1) / 2
	s.need(float64(half+4) * (tableHeight + 0.5))
	top, bottom := s.doc.GetY(), 0.0
	for k, rows := range [][][]words.Word{g.Rows[:half], g.Rows[half:]} {
		t.left = pageMargin + float64(k)*(textWidth/2+2)
		s.doc.SetY(top)
		s.row(&t, head, "B")
		for _, row := range rows {
			s.row(&t, row, "")
		}
		bottom = max(bottom, s.doc.GetY())
	}
	s.doc.SetXY(pageMargin, bottom+2)
}

// columns decides which columns of a table are printed and how wide: as wide as their
// widest cell. If that is too much, the text is made smaller as far as it stays readable;
// then columns are left out, those of the highest rank first; and then the cells of the
// widest remaining columns are wrapped.
func (s *sheet) columns(t *printed, room float64) {
	t.size = tableSize
	t.widths = make([]float64, len(t.Columns))
	total := 0.0
	for i := range t.widths {
		t.columns = append(t.columns, i)
		s.doc.SetFont(picture.Font, "B", tableSize)
		t.widths[i] = s.doc.GetStringWidth(basic(t.Columns[i].Title))
		for _, row := range t.Rows {
			t.widths[i] = max(t.widths[i], s.doc.GetStringWidth(basic(row[i].Text)))
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
func (s *sheet) row(t *printed, row []words.Word, style string) {
	top := s.doc.GetY()
	bottom := top + tableHeight
	x := t.left
	margin := s.doc.GetCellMargin()
	s.doc.SetCellMargin(0) // cellGap is all the room between columns
	for _, i := range t.columns {
		cellStyle := style
		if row[i].Tone == words.Bad || row[i].Tone == words.Doubtful {
			cellStyle = "B"
		}
		s.doc.SetFont(picture.Font, cellStyle, t.size)
		align := "L"
		if t.Columns[i].Right {
			align = "R"
		}
		for k, line := range s.doc.SplitText(basic(row[i].Text), t.widths[i]+0.6) {
			s.doc.SetXY(x, top+float64(k)*tableHeight)
			s.doc.CellFormat(t.widths[i]-cellGap, tableHeight, line, "", 0, align, false, 0, "")
			bottom = max(bottom, top+float64(k+1)*tableHeight)
		}
		x += t.widths[i]
	}
	s.doc.SetCellMargin(margin)
	s.doc.SetDrawColor(200, 200, 200)
	s.doc.SetLineWidth(0.15)
	s.doc.Line(t.left, bottom+0.2, x-cellGap, bottom+0.2)
	s.doc.SetXY(t.left, bottom+0.5)
}
