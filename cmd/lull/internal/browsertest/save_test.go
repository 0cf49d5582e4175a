package browsertest

import (
	"bytes"
	"encoding/csv"
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"lull/cmd/internal/browser"
	"lull/pkg/oracle"
)

// saved waits until the browser has saved a file, whole, and reads it.
func (u *user) saved(folder, name string) []byte {
	u.t.Helper()
	var there []string
	for end := time.Now().Add(browser.Patience); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		list, err := os.ReadDir(folder)
		u.must(err)
		there = nil
		for _, f := range list {
			there = append(there, f.Name())
		}
		if slices.Equal(there, []string{name}) {
			data, err := os.ReadFile(filepath.Join(folder, name))
			u.must(err)
			u.must(os.Remove(filepath.Join(folder, name)))
			return data
		}
	}
	u.t.Fatalf("waited in vain for %s; saved are %q", name, there)
	return nil
}

const complaint = `slow to go & "radio goes off" <b>since May</b>`

func TestEveryFileIsSavedByAClickAndHoldsWhatTheCommandLinePrints(t *testing.T) {
	u := sitDown(t, serve(t))
	folder := t.TempDir()
	u.must(u.tab.SaveInto(folder))
	u.pick("slow-to-go-after")
	u.choose("#against [name=log]", demo(t, "slow-to-go-before.log"))
	u.click("#against [value=before]")
	u.click("#against [type=submit]")
	u.loaded("location.search.includes('before=') && document.querySelector('#answer')")

	const log = "slow-to-go-after"
	printed := func(args ...string) string {
		return run(t, demo(t, ""), append(args, "--quiet")...)
	}
	for _, f := range []struct{ file, want string }{
		{"episodes.csv", printed("episodes", log+".log", "--format", "csv")},
		{"episodes.json", printed("episodes", log+".log", "--format", "json")},
		{"standstills.csv", printed("standstills", log+".log", "--format", "csv")},
		{"standstills.json", printed("standstills", log+".log", "--format", "json")},
		{"compare.csv", printed("compare", "--before", "slow-to-go-before.log", "--after", log+".log", "--format", "csv")},
		{"compare.json", printed("compare", "--before", "slow-to-go-before.log", "--after", log+".log", "--format", "json")},
	} {
		u.click(`.files a[href*="/file/` + f.file + `"]`)
		if d := cmp.Diff(f.want, string(u.saved(folder, log+"-"+f.file))); d != "" {
			t.Errorf("%s (-printed +saved)\n%s", f.file, d)
		}
	}
	for _, name := range []string{"episodes", "standstills"} {
		u.click(`.files a[href$="/file/` + name + `.xlsx"]`)
		book, err := excelize.OpenReader(bytes.NewReader(u.saved(folder, log+"-"+name+".xlsx")))
		if err != nil {
			t.Errorf("%s.xlsx: %v", name, err)
			continue
		}
		rows, err := book.GetRows(name)
		if err != nil {
			t.Error(err)
		}
		want, err := csv.NewReader(strings.NewReader(printed(name, log+".log", "--format", "csv"))).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		if len(rows) != len(want) || len(rows) > 0 && len(rows[1]) < 5 {
			t.Errorf("%s.xlsx has %d rows, and csv has %d", name, len(rows), len(want))
		}
	}

	u.must(u.tab.Do(chromedp.SendKeys(chromedp.CSS("[name=complaint]"), complaint), chromedp.SendKeys(chromedp.CSS("[name=order]"), "4711")))
	u.click(`.job button[value="report.html"]`)
	page := string(u.saved(folder, log+"-report.html"))
	if !strings.Contains(page, html.EscapeString(complaint)) || strings.Contains(page, complaint) || !strings.Contains(page, "4711") {
		t.Error("the report does not hold the complaint and the order as they were typed")
	}
	if !strings.Contains(page, "slow-to-go-before.log") {
		t.Error("the report does not hold the comparison that the page shows")
	}
	u.click(`.job button[value="sheet.pdf"]`)
	pdf := u.saved(folder, log+"-sheet.pdf")
	if !bytes.HasPrefix(pdf, []byte("%PDF-")) {
		t.Errorf("the PDF begins with %.20q", pdf)
	}
	cmd := exec.Command(oracle.Program(t, "pdftotext", "poppler-utils"), "-layout", "-", "-")
	cmd.Stdin = bytes.NewReader(pdf)
	text, err := cmd.Output()
	if err != nil || !strings.Contains(string(text), complaint) {
		t.Errorf("the PDF does not hold the complaint: %v\n%.600s", err, text)
	}
}
