package browsertest

import (
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

var aPage = regexp.MustCompile(`/Type\s*/Page\b`)

// A sheet is one side when it is printed from the browser, too, on either paper; it is no wider
// than its window, and loads nothing.
func TestTheSheetIsPrintedOnOneSide(t *testing.T) {
	logs := [][]string{
		{"town.log"}, {"kept-running.log"}, {"failed-start.log"}, {"van/round.log"},
		{"slow-to-go-after.log", "--before", "slow-to-go-before.log"}, {"battery-swapped-after.log", "--before", "battery-swapped-before.log"},
		{"creeps-late-after.log", "--before", "creeps-late-before.log", "--complaint", strings.Repeat("it sets off late ", 60), "--note", strings.Repeat("pump ", 200),
			"--plate", "TM 4711", "--mileage", "48 210 km", "--workshop", strings.Repeat("Harbour Lane Garage ", 5), "--order", "4711", "--technician", "R. Ames", "--date", "2026-03-31"},
	}
	for _, args := range logs {
		file := filepath.Join(t.TempDir(), "sheet.html")
		run(t, demo(t, ""), append(append([]string{"report"}, args...), "-o", file, "--quiet")...)
		u := sitDown(t, "file://"+file)
		for _, paper := range []struct {
			name          string
			width, height float64
		}{{"A4", 8.27, 11.69}, {"Letter", 8.5, 11}} {
			pdf, err := u.tab.Print(paper.width, paper.height)
			u.must(err)
			if n := len(aPage.FindAll(pdf, -1)); n != 1 {
				t.Errorf("%s on %s: %d pages", args[0], paper.name, n)
			}
		}
		for _, width := range []int64{360, 1400} {
			u.must(u.tab.Look(width, 900, true))
			u.until("document.documentElement.scrollWidth <= innerWidth")
		}
		u.calm("the sheet")
	}
}
