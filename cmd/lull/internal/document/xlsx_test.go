package document

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"lull/analyze"
	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/oracle"
)

func workbookOf(t *testing.T, r *words.Report, kind words.Kind) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := WriteXLSX(&b, r, kind); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// kindSheets names the sheet of each kind.
var kindSheets = []struct {
	kind  words.Kind
	sheet string
}{{words.Episodes, "episodes"}, {words.Standstills, "standstills"}}

func csvOf(t *testing.T, r *words.Report, kind words.Kind) [][]string {
	t.Helper()
	var text bytes.Buffer
	if err := WriteCSV(&text, r, kind); err != nil {
		t.Fatal(err)
	}
	return readCSV(t, text.Bytes())
}

func readCSV(t *testing.T, text []byte) [][]string {
	t.Helper()
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// sameTable holds the rows of a sheet against those of CSV, which has no dates, and
// gives the number of dates.
func sameTable(t *testing.T, sheet string, want, rows [][]string) (dates int) {
	t.Helper()
	if len(rows) != len(want) {
		t.Fatalf("%s: %d rows, want %d", sheet, len(rows), len(want))
	}
	for n := range rows {
		skipped := 0
		for k := range len(want[n]) + 1 {
			title := rows[0][k]
			got := ""
			if k < len(rows[n]) {
				got = rows[n][k]
			}
			if strings.HasSuffix(title, " date") {
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
				t.Errorf("%s row %d, %s: %q, in CSV %q", sheet, n, name, got, want[n][k-skipped])
			}
		}
	}
	return dates
}

// A workbook holds what CSV holds: numbers as numbers, of the same value, and text
// as text. Its columns are those of CSV and the date beside them.
func TestWorkbooksHoldWhatCSVHolds(t *testing.T) {
	r := sample.Report()
	r.Logs[0].Result.Info.Stamps = decode.StampsAbsolute
	for _, c := range kindSheets {
		file, err := excelize.OpenReader(bytes.NewReader(workbookOf(t, r, c.kind)))
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff([]string{"answer", c.sheet, "definitions"}, file.GetSheetList()); d != "" {
			t.Errorf("sheets: (-want +got)\n%s", d)
		}
		rows, err := file.GetRows(c.sheet, excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		if sameTable(t, c.sheet, csvOf(t, r, c.kind), rows) == 0 {
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
	for _, kind := range []words.Kind{words.Episodes, words.Standstills} {
		first := workbookOf(t, sample.Report(), kind)
		for range 20 {
			if !bytes.Equal(first, workbookOf(t, sample.Report(), kind)) {
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
	if err := WriteXLSX(fullAfter{100, full}, sample.Report(), words.Episodes); !errors.Is(err, full) {
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
	case strings.TrimPrefix(text, "'") == cell || words.Spoken(text) == cell:
		return true
	}
	a, errA := strconv.ParseFloat(text, 64)
	b, errB := strconv.ParseFloat(cell, 64)
	return errA == nil && errB == nil && a == b
}

// Text that a spreadsheet might run stays text, in every place that a map or a log
// reaches.
func TestNoTextInAWorkbookIsAFormula(t *testing.T) {
	r := sample.Report()
	const formula = `=HYPERLINK("x","y")` + "\x00\x1b"
	r.Logs[0].Name, r.Map.Name = formula, formula
	for i := range r.Map.Requests {
		r.Map.Requests[i].Name = formula
	}
	for i := range r.Map.Inhibits {
		r.Map.Inhibits[i].Name = formula
	}
	for _, kind := range []words.Kind{words.Episodes, words.Standstills} {
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

var shownDate = regexp.MustCompile(`^\d{4}-\d\d-\d\d \d\d:\d\d:\d\d\.\d{3}$`)

// An independent program opens it and shows what CSV holds, and dates to the
// millisecond.
func TestAnOfficeProgramShowsWhatCSVHolds(t *testing.T) {
	program := oracle.Program(t, "soffice", "libreoffice-calc")
	r := sample.Report()
	r.Logs[0].Result.Info.Stamps = decode.StampsAbsolute
	folder := t.TempDir()
	// Commas, quotes, UTF-8, from the first line on, numbers whole and not as shown,
	// every sheet to a file of its own.
	arguments := []string{"-env:UserInstallation=file://" + filepath.ToSlash(folder) + "/profile", "--headless",
		"--convert-to", "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1", "--outdir", folder}
	for _, k := range kindSheets {
		path := filepath.Join(folder, k.sheet+".xlsx")
		if err := os.WriteFile(path, workbookOf(t, r, k.kind), 0o600); err != nil {
			t.Fatal(err)
		}
		arguments = append(arguments, path)
	}
	if out, err := exec.Command(program, arguments...).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, k := range kindSheets {
		sheet := func(name string) [][]string {
			text, err := os.ReadFile(filepath.Join(folder, k.sheet+"-"+name+".csv"))
			if err != nil {
				t.Fatal(err)
			}
			return readCSV(t, text)
		}
		rows := sheet(k.sheet)
		sameTable(t, k.sheet, csvOf(t, r, k.kind), rows)
		if at := rows[1][slices.IndexFunc(rows[0], func(title string) bool { return strings.HasSuffix(title, " date") })]; !shownDate.MatchString(at) {
			t.Errorf("%s: a date is shown as %q", k.sheet, at)
		}
		if definitions := sheet("definitions"); len(definitions) <= len(rows[0]) || definitions[1][0] != rows[0][0] {
			t.Errorf("%s: definitions are %q", k.sheet, definitions)
		}
	}
}

// A workbook opens with the answer, and every sheet of it prints across, as wide as its pages,
// with its header on each.
func TestAWorkbookOpensWithTheAnswerAndCanBePrinted(t *testing.T) {
	r := sample.Report()
	for _, c := range kindSheets {
		file, err := excelize.OpenReader(bytes.NewReader(workbookOf(t, r, c.kind)))
		if err != nil {
			t.Fatal(err)
		}
		if first := file.GetSheetName(file.GetActiveSheetIndex()); first != "answer" {
			t.Errorf("%s opens with %s", c.sheet, first)
		}
		rows, err := file.GetRows("answer")
		if err != nil {
			t.Fatal(err)
		}
		said := map[string]string{}
		for _, row := range rows[1:] {
			said[row[0]] = row[1]
		}
		for of, want := range map[string]string{"result": r.Status().Text, "answer": r.Answer(), "caution": words.Caution, "in plain words": strings.Join(r.Verdict(), " ")} {
			if said[of] != want {
				t.Errorf("%s: %q, want %q", of, said[of], want)
			}
		}
		titles := map[string]string{}
		for _, d := range file.GetDefinedName() {
			titles[d.Scope] = d.RefersTo
		}
		for _, sheet := range file.GetSheetList() {
			layout, err := file.GetPageLayout(sheet)
			if err != nil {
				t.Fatal(err)
			}
			props, err := file.GetSheetProps(sheet)
			if err != nil {
				t.Fatal(err)
			}
			if *layout.Orientation != "landscape" || *layout.FitToHeight != 0 || !*props.FitToPage || !strings.HasSuffix(titles[sheet], sheet+"!$1:$1") {
				t.Errorf("%s: %s, %d pages high, fits: %v, titles %q", sheet, *layout.Orientation, *layout.FitToHeight, *props.FitToPage, titles[sheet])
			}
		}
	}
}
