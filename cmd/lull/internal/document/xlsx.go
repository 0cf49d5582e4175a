package document

import (
	"archive/zip"
	"bytes"
	"cmp"
	"encoding/xml"
	"io"
	"slices"
	"time"

	"github.com/xuri/excelize/v2"

	"lull/analyze"
	"lull/cmd/lull/internal/words"
	"lull/pkg/bounds"
)

// workbook is a spreadsheet being made. Its first error is kept and returned at the end.
type workbook struct {
	file         *excelize.File
	head, moment int // styles
	err          error
}

// coreProperties say who made a workbook and not when, so that the same logs give the same
// bytes. The library's own call always writes a date.
const coreProperties = `<cp:coreProperties xmlns:cp="http://schemas.openxmlformats.org/package/2006/metadata/core-properties" ` +
	`xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:creator>lull</dc:creator></cp:coreProperties>`

// WriteXLSX writes a workbook with one row for each episode or standstill: numbers as
// numbers, dates as dates, units in the header, which stays in view, and a sheet that
// explains the columns. Text is never a formula.
func WriteXLSX(w io.Writer, r *words.Report, kind words.Kind) error {
	b := &workbook{file: excelize.NewFile()}
	defer b.file.Close()
	b.head = b.style(&excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"},
		Border: []excelize.Border{{Type: "bottom", Color: "808080", Style: 1}}})
	dates := "yyyy-mm-dd hh:mm:ss.000"
	b.moment = b.style(&excelize.Style{CustomNumFmt: &dates})
	b.file.Pkg.Store("docProps/core.xml", []byte(xml.Header+coreProperties))
	name, columns, rows := "episodes", episodeSheet(), episodeRows
	if kind == words.Standstills {
		name, columns, rows = "standstills", standstillSheet(r), standstillRows
	}
	b.sheet(name, columns, 2, rows(b, r))
	var definitions [][]any
	for _, c := range columns {
		definitions = append(definitions, []any{c.title(), c.text})
	}
	definitions = append(definitions, []any{"map", words.Visible(r.Map.Name) + ", sha256 " + r.Map.SHA256}, []any{"lull", r.Version}, []any{"caution", words.Caution})
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

// sheet adds a sheet whose header and first columns stay in view.
func (b *workbook) sheet(name string, columns []sheetColumn, fixedColumns int, rows [][]any) {
	if b.err != nil {
		return
	}
	_, err := b.file.NewSheet(name)
	b.keep(err)
	s, err := b.file.NewStreamWriter(name)
	if b.keep(err); b.err != nil {
		return
	}
	header := make([]any, len(columns))
	for i, c := range columns {
		header[i] = excelize.Cell{StyleID: b.head, Value: c.title()}
		b.keep(s.SetColWidth(i+1, i+1, max(c.width, 12)))
	}
	corner, err := excelize.CoordinatesToCellName(fixedColumns+1, 2)
	b.keep(err)
	pane := "bottomLeft"
	if fixedColumns > 0 {
		pane = "bottomRight"
	}
	b.keep(s.SetPanes(&excelize.Panes{Freeze: true, XSplit: fixedColumns, YSplit: 1, TopLeftCell: corner, ActivePane: pane}))
	b.keep(s.SetRow("A1", header))
	for i, row := range rows {
		cell, err := excelize.CoordinatesToCellName(1, i+2)
		b.keep(err)
		b.keep(s.SetRow(cell, row))
	}
	b.keep(s.Flush())
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
