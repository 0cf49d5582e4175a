package page_test

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/sample/driven"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/oracle"
)

// sheets are those of every drive and every repair of the demonstration.
func sheets(t *testing.T) map[string]*page.Report {
	t.Helper()
	list := map[string]*page.Report{}
	sides := map[string]*page.Side{}
	for _, name := range []string{"town", "kept-running", "older-car", "failed-start", "slow-to-go-before", "slow-to-go-after",
		"battery-swapped-before", "battery-swapped-after", "creeps-late-before", "creeps-late-after", "van/round", "truck/yard"} {
		sides[name] = driven.Side(t, nil, name)
		list[name] = &page.Report{After: *sides[name]}
	}
	for _, name := range []string{"slow-to-go", "battery-swapped", "creeps-late"} {
		before, after := sides[name+"-before"], sides[name+"-after"]
		list[name] = &page.Report{After: *after, Before: before, Comparison: driven.Compared(before, after),
			Job: page.Job{Complaint: "slow to go", Plate: "TM 4711", Workshop: "Harbour Lane Garage", Date: "2026-03-31"}}
	}
	return list
}

// wordBox is a word of a page and where it stands, in points.
type wordBox struct {
	text                string
	left, top, right, y float64
}

var boxes = regexp.MustCompile(`<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)">([^<]*)</word>`)

// printed returns the pages of a PDF: how wide and high each is, and its words.
func printed(t *testing.T, r *page.Report) (pages [][]wordBox, width, height float64) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, []byte(driven.Written(t, r.WritePDF)), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(oracle.Program(t, "pdftotext", "poppler-utils"), "-bbox", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	for i, part := range strings.Split(string(out), "<page ")[1:] {
		if i == 0 {
			if _, err := fmt.Sscanf(part, `width="%f" height="%f"`, &width, &height); err != nil {
				t.Fatal(err)
			}
		}
		var list []wordBox
		for _, m := range boxes.FindAllStringSubmatch(part, -1) {
			var at [4]float64
			for k := range at {
				at[k], _ = strconv.ParseFloat(m[k+1], 64)
			}
			list = append(list, wordBox{m[5], at[0], at[1], at[2], at[3]})
		}
		pages = append(pages, list)
	}
	return pages, width, height
}

// oneSide fails unless a sheet is one page that fits A4 and Letter, all of its words are on
// it, and the cautions stand clear of what is above.
func oneSide(t *testing.T, name string, r *page.Report) {
	t.Helper()
	const a4Width, letterHeight = 595.3, 792.0
	pages, width, height := printed(t, r)
	if len(pages) != 1 || width > a4Width || height > letterHeight {
		t.Errorf("%s: %d pages of %v x %v points", name, len(pages), width, height)
		return
	}
	words := pages[0]
	caution := slices.IndexFunc(words, func(w wordBox) bool { return w.text == "A" && w.left < 45 })
	for i, w := range words {
		if w.left < 30 || w.top < 30 || w.right > width-20 || w.y > height-20 {
			t.Errorf("%s: %q stands at %v, %v", name, w.text, w.left, w.top)
		}
		if caution >= 0 && i < caution && w.y > words[caution].top+1.5 && w.top < words[caution].top {
			t.Errorf("%s: %q stands in the cautions", name, w.text)
		}
	}
	if caution < 0 || words[len(words)-1].text != "Signature" {
		t.Errorf("%s: no cautions, or no room for a signature", name)
	}
}

func TestTheSheetOfEveryDriveAndRepairIsOneSide(t *testing.T) {
	for name, r := range sheets(t) {
		oneSide(t, name, r)
		if html := driven.Written(t, r.WriteHTML); len(html) > 400_000 || len(driven.Written(t, r.WritePDF)) > 400_000 {
			t.Errorf("%s: more than 400 kB", name)
		}
	}
}

// However much was driven and however much the user says, it is one side.
func TestTheSheetStaysOneSide(t *testing.T) {
	many := driven.Side(t, nil, "slow-to-go-before")
	log, traces := many.Logs[0], many.Traces[0]
	for i := range 199 {
		log.Name = fmt.Sprintf("%d %s.log", i, strings.Repeat("long name ", 20))
		many.Logs, many.Traces = append(many.Logs, log), append(many.Traces, traces)
	}
	oneSide(t, "200 logs", &page.Report{After: *many})
	few := driven.Side(t, nil, "failed-start")
	for _, text := range []string{strings.Repeat("word ", 2000), strings.Repeat("W", 5000), strings.Repeat("a\n", 500)} {
		oneSide(t, text[:10], &page.Report{After: *few, Before: many, Comparison: driven.Compared(many, few), Job: everywhere(text)})
	}
}

// Nothing is on a sheet twice, and the verdict is three sentences at the most.
func TestASheetSaysNothingTwice(t *testing.T) {
	for name, r := range sheets(t) {
		s := r.Sheet()
		if n := len(s.Verdict); n == 0 || n > 3 {
			t.Errorf("%s: %d sentences: %q", name, n, s.Verdict)
		}
		texts := append(slices.Clone(s.Verdict), s.Title, s.Caption, s.Status.Text)
		for _, v := range s.Facts {
			texts = append(texts, v.Term)
			texts = append(texts, strings.SplitAfter(v.Text, ". ")...)
		}
		for _, v := range s.Head {
			texts = append(texts, v.Term, v.Text)
		}
		texts = append(texts, s.Cautions...)
		for i, text := range texts {
			if text = strings.Trim(text, ". "); text == "" {
				continue
			}
			for k, other := range texts {
				if i != k && strings.Contains(other, text) && len(text) > 8 && !strings.HasPrefix(text, "The engine was stopped in") {
					t.Errorf("%s: %q and %q", name, text, other)
				}
			}
		}
	}
}

// misread makes a map by which no drive can be used: its engine speed is a tenth of what it is.
func misread(m *decode.Map) {
	m.RoleSignal(decode.EngineSpeed).Scale, _ = decode.ParseScale("0.025", "0")
}

// Of a drive that cannot be used a sheet shows no figure, and says why.
func TestASheetOfAnUnusableDriveShowsNoFigure(t *testing.T) {
	side := driven.Side(t, misread, "town")
	for _, r := range []*page.Report{{After: *side}, {After: *side, Before: side, Comparison: driven.Compared(side, side)}} {
		s := r.Sheet()
		if s.Measures != nil || s.Fault != nil || s.Status != (words.Word{Text: "Cannot be used", Tone: words.Bad}) ||
			len(s.Verdict) != 1 || !strings.HasPrefix(s.Verdict[0], "Do not use these figures: ") {
			t.Errorf("%+v", s)
		}
	}
	oneSide(t, "unusable", &page.Report{After: *side})
}

func TestTheSameSheetHasTheSameBytes(t *testing.T) {
	for name, r := range sheets(t) {
		for _, extent := range []page.Extent{{}, {Full: true}} {
			r.Extent = extent
			for _, write := range []func(io.Writer) error{r.WritePDF, r.WriteHTML} {
				first := driven.Written(t, write)
				if again := driven.Written(t, write); again != first {
					t.Errorf("%s: other bytes of the same input", name)
				}
			}
		}
	}
}

// In a full report no page holds a table and nothing else, and the last one is not nearly
// empty.
func TestPagesOfAFullReportAreMadeForPeople(t *testing.T) {
	for name, r := range sheets(t) {
		r.Full = true
		pages, _, height := printed(t, r)
		for i, list := range pages[1:] {
			last := 0.0
			for _, w := range list {
				if w.y < height-50 { // above the footer
					last = max(last, w.y)
				}
			}
			if last < height/5 {
				t.Errorf("%s: page %d of %d ends at %v of %v points", name, i+2, len(pages), last, height)
			}
		}
	}
}

// What the sheet has no room for stands in the full report.
func TestAFullReportHasWhatTheSheetShortens(t *testing.T) {
	r := &page.Report{After: *driven.Side(t, nil, "town"), Job: page.Job{Complaint: strings.Repeat("slow ", 100) + "at last", Order: "4711"}, Extent: page.Extent{Full: true}}
	first := r.Sections()[0]
	if first.Title != "The job" || len(first.Blocks[0].List) != 1 || !strings.HasSuffix(first.Blocks[0].List[0].Text, "at last") {
		t.Errorf("%+v", first)
	}
	r.Complaint = "slow"
	if first := r.Sections()[0]; first.Title != "The answer" {
		t.Errorf("%+v", first)
	}
}
