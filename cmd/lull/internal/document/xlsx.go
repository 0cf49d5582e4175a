package document

import (
	"archive/zip"
	"bytes"
	"cmp"
	"encoding/xml"
	"io"
	"math"
	"slices"
	"time"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"lull/analyze"
	"lull/cmd/lull/internal/words"
	"lull/pkg/bounds"
)

// workbook is a spreadsheet being made. Its first error is kept and returned at the end.
type workbook struct {
	file                *excelize.File
	head, moment, prose int // styles
	err                 error
}

// coreProperties say who made a workbook and not when, so that the same logs give the same
// bytes. The library's own call always writes a date.
const coreProperties = `<cp:coreProperties xmlns:cp="http://schemas.openxmlformats.org/package/2006/metadata/core-properties" ` +
	`xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:creator>lull</dc:creator></cp:coreProperties>`

// WriteXLSX writes a workbook: a sheet with the answer, one with a row for each episode or
// standstill, numbers as numbers, dates as dates, units in the header, which stays in view and
// is printed on every page, and a sheet that explains the columns. Text is never a formula.
func WriteXLSX(w io.Writer, r *words.Report, kind words.Kind) error {
	b := &workbook{file: excelize.NewFile()}
	defer b.file.Close()
	b.head = b.style(&excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"},
		Border: []excelize.Border{{Type: "bottom", Color: "808080", Style: 1}}})
	dates := "yyyy-mm-dd hh:mm:ss.000"
	b.moment = b.style(&excelize.Style{CustomNumFmt: &dates})
	b.file.Pkg.Store("docProps/core.xml", []byte(xml.Header+coreProperties))
	b.prose = b.style(&excelize.Style{Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}})
	b.sheet("answer", []sheetColumn{{name: "of", width: 18}, {name: "what is said", width: 110}}, 0, answerRows(b, r))
	name, columns, rows := "episodes", episodeSheet(), episodeRows
	if kind == words.Standstills {
		name, columns, rows = "standstills", standstillSheet(r), standstillRows
	}
	b.sheet(name, columns, 2, rows(b, r))
	var definitions [][]any
	for _, c := range columns {
		definitions = append(definitions, []any{c.title(), c.text})
	}
	b.sheet("definitions", []sheetColumn{{name: "column", width: 34}, {name: "what it is", width: 110}}, 0, definitions)
	if b.err == nil {
		b.err = b.file.DeleteSheet("Sheet1")
	}
	b.write(w)
	return b.err
}

// write packs the workbook. excelize takes the parts from a Go map; they are written in the
// order of their names, and without times, so that the bytes are the same each time.
// [Content_Types].xml sorts first, as is usual.
func (b *workbook) write(w io.Writer) {
	if b.err != nil {
		return
	}
	packed, err := b.file.WriteToBuffer()
	if b.keep(err); err != nil {
		return
	}
	from, err := zip.NewReader(bytes.NewReader(packed.Bytes()), int64(packed.Len()))
	if b.keep(err); err != nil {
		return
	}
	slices.SortFunc(from.File, func(p, q *zip.File) int { return cmp.Compare(p.Name, q.Name) })
	to := zip.NewWriter(w)
	for _, part := range from.File {
		b.keep(to.Copy(part))
	}
	b.keep(to.Close())
}

func (b *workbook) style(s *excelize.Style) int {
	id, err := b.file.NewStyle(s)
	b.keep(err)
	return id
}

func (b *workbook) keep(err error) {
	if b.err == nil {
		b.err = err
	}
}

// sheetColumn is one column of a sheet and what it is.
type sheetColumn struct {
	name, unit, text string
	width            float64
}

func (c sheetColumn) title() string {
	if c.unit == "" {
		return c.name
	}
	return c.name + " (" + c.unit + ")"
}

// pageWidth is how wide, in characters, what is printed on one page may be: on A4 across it
// can then still be read.
const pageWidth = 250

// printed sets a sheet up for print: across, as wide as its pages, with the header and the first
// columns on each.
func (b *workbook) printed(name string, columns []sheetColumn, fixedColumns int) {
	total := 0.0
	for _, c := range columns {
		total += max(c.width, leastWidth)
	}
	a4, across, fit, wide, high := 9, "landscape", true, int(math.Ceil(total/pageWidth)), 0
	b.keep(b.file.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: &fit}))
	b.keep(b.file.SetPageLayout(name, &excelize.PageLayoutOptions{Size: &a4, Orientation: &across, FitToWidth: &wide, FitToHeight: &high}))
	titles := name + "!$1:$1"
	if fixedColumns > 0 {
		last, err := excelize.ColumnNumberToName(fixedColumns)
		b.keep(err)
		titles = name + "!$A:$" + last + "," + titles
	}
	b.keep(b.file.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", RefersTo: titles, Scope: name}))
}

// leastWidth is that of a column, in characters.
const leastWidth = 12

// sheet adds a sheet whose header and first columns stay in view.
func (b *workbook) sheet(name string, columns []sheetColumn, fixedColumns int, rows [][]any) {
	if b.err != nil {
		return
	}
	_, err := b.file.NewSheet(name)
	b.keep(err)
	b.printed(name, columns, fixedColumns)
	s, err := b.file.NewStreamWriter(name)
	if b.keep(err); b.err != nil {
		return
	}
	header := make([]any, len(columns))
	for i, c := range columns {
		header[i] = excelize.Cell{StyleID: b.head, Value: c.title()}
		b.keep(s.SetColWidth(i+1, i+1, max(c.width, leastWidth)))
	}
	corner, err := excelize.CoordinatesToCellName(fixedColumns+1, 2)
	b.keep(err)
	pane := "bottomLeft"
	if fixedColumns > 0 {
		pane = "bottomRight"
	}
	b.keep(s.SetPanes(&excelize.Panes{Freeze: true, XSplit: fixedColumns, YSplit: 1, TopLeftCell: corner, ActivePane: pane}))
	b.keep(s.SetRow("A1", header, tall(columns, header)))
	for i, row := range rows {
		cell, err := excelize.CoordinatesToCellName(1, i+2)
		b.keep(err)
		b.keep(s.SetRow(cell, row, tall(columns, row)))
	}
	b.keep(s.Flush())
}

// tall makes a row high enough for its styled texts, which are wrapped: not every program does
// that by itself.
func tall(columns []sheetColumn, row []any) excelize.RowOpts {
	const lineHeight = 15.0 // points
	lines := 1
	for i, cell := range row {
		styled, _ := cell.(excelize.Cell)
		if text, ok := styled.Value.(string); ok {
			width := max(columns[i].width, leastWidth) * 0.9 // words are not broken
			lines = max(lines, int(math.Ceil(float64(utf8.RuneCountInString(text))/width)))
		}
	}
	return excelize.RowOpts{Height: min(lineHeight*float64(lines), excelize.MaxRowHeight)}
}

// cellNumber returns the number, or nil if a cell cannot hold it.
func cellNumber(v float64) any {
	if p := number(v); p != nil {
		return *p
	}
	return nil
}

// date returns an instant by the log's clock, nil if its time stamps carry no date.
func (b *workbook) date(res *analyze.Result, t int64) any {
	if !words.Dated(res) {
		return nil
	}
	// Spreadsheets count dates from 1900 on, and to the millisecond.
	at := time.Unix(0, res.Start+t).UTC().Round(time.Millisecond)
	if at.Year() < 1900 || at.Year() > 9999 {
		return nil
	}
	return excelize.Cell{StyleID: b.moment, Value: at}
}

func instantCell(i *bounds.Instant) any {
	if i == nil {
		return nil
	}
	return bounds.Seconds(i.T)
}
