package output

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"lull/analyze"
	"lull/decode"
)

func workbookOf(t *testing.T, r *Report, kind Kind) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := r.WriteXLSX(&b, kind); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// A workbook holds what CSV holds: numbers as numbers, of the same value, and text
// as text. Its columns are those of CSV and the date beside them.
func TestWorkbooksHoldWhatCSVHolds(t *testing.T) {
	r := sampleReport()
	r.Logs[0].Result.Info.Stamps = decode.StampsAbsolute
	for _, c := range []struct {
		kind        Kind
		sheet, date string
	}{{Episodes, "episodes", "stop date"}, {Standstills, "standstills", "start date"}} {
		file, err := excelize.OpenReader(bytes.NewReader(workbookOf(t, r, c.kind)))
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff([]string{c.sheet, "definitions"}, file.GetSheetList()); d != "" {
			t.Errorf("sheets: (-want +got)\n%s", d)
		}
		rows, err := file.GetRows(c.sheet, excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		var text bytes.Buffer
		if err := r.WriteCSV(&text, c.kind); err != nil {
			t.Fatal(err)
		}
		want, err := csv.NewReader(&text).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		if len(rows) != len(want) {
			t.Fatalf("%s: %d rows, want %d", c.sheet, len(rows), len(want))
		}
		dates := 0
		for n := range rows {
			skipped := 0
			for k := range len(want[n]) + 1 {
				title := rows[0][k]
				got := ""
				if k < len(rows[n]) {
					got = rows[n][k]
				}
				if title == c.date {
					skipped = 1
					if n > 0 && got != "" {
						dates++
					}
					continue
				}
				name, _, _ := strings.Cut(title, " (")
				if n == 0 {
					got = name
				}
				if !sameCell(want[n][k-skipped], got) {
					t.Errorf("%s row %d, %s: %q, in CSV %q", c.sheet, n, name, got, want[n][k-skipped])
				}
			}
		}
		if dates == 0 {
			t.Errorf("%s: no row has a date", c.sheet)
		}
		panes, err := file.GetPanes(c.sheet)
		if err != nil || !panes.Freeze || panes.YSplit != 1 {
			t.Errorf("%s: the header does not stay: %+v, %v", c.sheet, panes, err)
		}
		definitions, err := file.GetRows("definitions")
		if err != nil {
			t.Fatal(err)
		}
		for k, title := range rows[0] {
			if definitions[k+1][0] != title || len(definitions[k+1]) < 2 {
				t.Errorf("%s: %s is not defined", c.sheet, title)
			}
		}
	}
}

// The same logs give the same bytes: the parts come in one order and carry no times.
func TestAWorkbookIsTheSameByteForByteEachTime(t *testing.T) {
	for _, kind := range []Kind{Episodes, Standstills} {
		first := workbookOf(t, sampleReport(), kind)
		for range 20 {
			if !bytes.Equal(first, workbookOf(t, sampleReport(), kind)) {
				t.Fatal("two workbooks of one result differ")
			}
		}
		parts, err := zip.NewReader(bytes.NewReader(first), int64(len(first)))
		if err != nil {
			t.Fatal(err)
		}
		if name := parts.File[0].Name; name != "[Content_Types].xml" {
			t.Errorf("the first part is %s", name)
		}
		for _, part := range parts.File {
			// A time of 0 reads back as the year before the first that zip can have.
			if part.Modified.Year() >= 1980 {
				t.Errorf("%s carries the time %s", part.Name, part.Modified)
			}
		}
	}
}

// A workbook that cannot be written whole is an error.
func TestAWorkbookThatCannotBeWrittenIsAnError(t *testing.T) {
	full := errors.New("no space")
	if err := sampleReport().WriteXLSX(fullAfter{100, full}, Episodes); !errors.Is(err, full) {
		t.Errorf("error %v, want %v", err, full)
	}
}

// fullAfter takes writes up to so many bytes at once and fails on longer ones.
type fullAfter struct {
	bytes int
	err   error
}

func (f fullAfter) Write(p []byte) (int, error) {
	if len(p) > f.bytes {
		return 0, f.err
	}
	return len(p), nil
}

// sameCell compares a cell of CSV with one of a workbook.
func sameCell(text, cell string) bool {
	switch {
	case text == "true" || text == "false":
		return cell == map[string]string{"true": "1", "false": "0"}[text] || strings.EqualFold(text, cell)
	case strings.TrimPrefix(text, "'") == cell || spoken(text) == cell:
		return true
	}
	a, errA := strconv.ParseFloat(text, 64)
	b, errB := strconv.ParseFloat(cell, 64)
	return errA == nil && errB == nil && a == b
}

// Text that a spreadsheet might run stays text, in every place that a map or a log
// reaches.
func TestNoTextInAWorkbookIsAFormula(t *testing.T) {
	r := sampleReport()
	const formula = `=HYPERLINK("x","y")` + "\x00\x1b"
	r.Logs[0].Name, r.Map.Name = formula, formula
	for i := range r.Map.Requests {
		r.Map.Requests[i].Name = formula
	}
	for i := range r.Map.Inhibits {
		r.Map.Inhibits[i].Name = formula
	}
	for _, kind := range []Kind{Episodes, Standstills} {
		file, err := excelize.OpenReader(bytes.NewReader(workbookOf(t, r, kind)))
		if err != nil {
			t.Fatal(err)
		}
		for _, sheet := range file.GetSheetList() {
			rows, err := file.GetRows(sheet)
			if err != nil {
				t.Fatal(err)
			}
			for i, row := range rows {
				for k := range row {
					cell, err := excelize.CoordinatesToCellName(k+1, i+1)
					if err != nil {
						t.Fatal(err)
					}
					if f, err := file.GetCellFormula(sheet, cell); f != "" || err != nil {
						t.Errorf("%s %s is a formula: %s, %v", sheet, cell, f, err)
					}
				}
			}
		}
	}
}

// Undated logs have no dates, and numbers that cannot be written none either.
func TestWhatIsNotKnownIsAnEmptyCell(t *testing.T) {
	b := &workbook{}
	res := &analyze.Result{HasTime: true, Info: decode.Info{Stamps: decode.StampsZero}}
	if v := b.date(res, 1); v != nil {
		t.Errorf("a date without a clock: %v", v)
	}
	res.Info.Stamps = decode.StampsAbsolute
	res.Start = -1 << 62
	if v := b.date(res, 1); v != nil {
		t.Errorf("a date before 1900: %v", v)
	}
}

// An independent program opens it.
func TestAnOfficeProgramOpensWorkbooks(t *testing.T) {
	program, err := exec.LookPath("soffice")
	if err != nil {
		t.Skip("SKIPPED: soffice is not here (Debian: libreoffice-calc)")
	}
	folder := t.TempDir()
	path := filepath.Join(folder, "town.xlsx")
	if err := os.WriteFile(path, workbookOf(t, sampleReport(), Episodes), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(program, "-env:UserInstallation=file://"+filepath.ToSlash(folder)+"/profile", "--headless", "--convert-to", "csv", "--outdir", folder, path)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	text, err := os.ReadFile(filepath.Join(folder, "town.csv"))
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err != nil || len(rows) != 1+len(sampleReport().Logs[0].Result.Episodes) {
		t.Errorf("%d rows, %v", len(rows), err)
	}
}
