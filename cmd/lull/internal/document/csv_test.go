package document

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/cmd/lull/internal/sample"
	"lull/cmd/lull/internal/words"
	"lull/decode"
)

func TestCSVTextCannotBecomeAFormula(t *testing.T) {
	for in, want := range map[string]string{
		"=1+1": "'=1+1", "+x": "'+x", "-x": "'-x", "@x": "'@x", "\tx": "'\tx", "\rx": "'\rx",
		"＝1+1": "'＝1+1", "＋x": "'＋x", "－x": "'－x", "＠x": "'＠x", // full width; some spreadsheets run these, too
		"x=1": "x=1", "x＝1": "x＝1", "": "", "a,b": "a,b", "\x1b[31mred": `\x1b[31mred`,
	} {
		if got := text(in); got != want {
			t.Errorf("text(%q) = %q, want %q", in, got, want)
		}
	}
	r := sample.Report()
	r.Logs[0].Result.Standstills[0].StopDelay.Best = -0.4
	var b bytes.Buffer
	if err := WriteCSV(&b, r, words.Standstills); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if got := rows[1][7]; got != "-0.4" {
		t.Errorf("a negative number is %q", got)
	}
}

func TestCSVReadsBackAsTheSameNumbers(t *testing.T) {
	r := sample.Report()
	var b bytes.Buffer
	if err := WriteCSV(&b, r, words.Episodes); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for i := range r.Logs[0].Result.Episodes {
		for k, key := range decode.MetricKeys {
			m, ok := words.MetricOf(r.Logs[0].Result.Episodes[i].Metrics, key)
			cells := rows[i+1][10+3*k : 13+3*k]
			if !ok {
				if cells[0]+cells[1]+cells[2] != "" {
					t.Errorf("%s of episode %d is absent and has %q", key, i+1, cells)
				}
				continue
			}
			for n, want := range []float64{m.Best, m.Low, m.High} {
				if got, err := strconv.ParseFloat(cells[n], 64); err != nil || got != want {
					t.Errorf("%s of episode %d: %q is not %v", key, i+1, cells[n], want)
				}
			}
		}
	}
}

func TestNDJSONNamesTheLogInEachLine(t *testing.T) {
	r := sample.Report()
	second := r.Logs[0]
	second.Name = "other.log"
	r.Logs = append(r.Logs, second)
	for kind, each := range map[words.Kind]int{words.Episodes: 3, words.Standstills: 7} {
		var b bytes.Buffer
		if err := WriteNDJSON(&b, r, kind); err != nil {
			t.Fatal(err)
		}
		count := map[string]int{}
		for _, line := range strings.Split(strings.TrimSpace(b.String()), "\n") {
			var row struct {
				Log string `json:"log"`
				N   int    `json:"n"`
			}
			if err := json.Unmarshal([]byte(line), &row); err != nil {
				t.Fatal(err)
			}
			count[row.Log]++
			if row.N == 0 {
				t.Errorf("a line without its number: %s", line)
			}
		}
		if diff := cmp.Diff(map[string]int{"drive.log": each, "other.log": each}, count); diff != "" {
			t.Error(diff)
		}
	}
}
