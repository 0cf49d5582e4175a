package onelog_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze/onelog"
	"lull/analyze/scenario"
	"lull/decode"
	"lull/decode/sigmap"
)

// doubted gives the texts of the findings that doubt the map.
func doubted(t *testing.T, drive string, m *decode.Map) string {
	t.Helper()
	run := onelog.NewRun(m)
	found := false
	for _, d := range scenario.Drives() {
		if d.Name == drive {
			found = true
			for f := range d.Frames {
				run.Push(f)
			}
		}
	}
	if !found {
		t.Fatalf("no drive %s", drive)
	}
	var texts []string
	for _, f := range run.Finish(decode.Info{Accepted: 1}).Findings {
		if f.Code == "implausible_signal" {
			texts = append(texts, f.Text)
		}
	}
	return strings.Join(texts, "\n")
}

func TestASlipInTheMapIsFoundWithItsLikelyCause(t *testing.T) {
	tests := []struct {
		name, right, wrong, want string
	}{
		{"a factor of ten", "factor: 0.25, unit: rpm,", "factor: 2.5, unit: rpm,", "engine_speed cannot be the engine speed that the map says: it reads 10420 rpm, which no such engine turns; with a factor divided by 4, divided by 8 or divided by 10 it could be one, so that may be the mistake"},
		{"the engine speed starts a byte too early", "{start: 16, length: 16, factor: 0.25, unit: rpm,", "{start: 8, length: 16, factor: 0.25, unit: rpm,", "engine_speed cannot be the engine speed that the map says: it reads 16320 rpm, which no such engine turns; with start: 16 it would read 0 rpm to 1036.5 rpm, so that may be the mistake"},
		{"the road speed's bytes the wrong way round", "road_speed:    {start: 7, length: 16, order: big,", "road_speed:    {start: 0, length: 16,", "road_speed cannot be the vehicle speed that the map says: it reads 652.89 km/h, which no such car drives; with order: big and start: 7 it would read 0 km/h to 34.86 km/h, so that may be the mistake"},
		{"the battery's millivolts taken for centivolts", "battery_voltage: {start: 0, length: 16, unit: mV,", "battery_voltage: {start: 0, length: 16, factor: 0.01, unit: V,", "battery_voltage cannot be the battery voltage that the map says: it reads 141.49 V, which a system of 12 V does not have; with a factor divided by 10 it would read 9.554 V to 14.149 V, so that may be the mistake"},
		{"the stop command turned round", "stop_lamp:     {start: 3, length: 1,", "stop_lamp:     {start: 3, length: 1, active: [0],", "stop_lamp cannot be the stop command that the map says: with the key on the engine ran for 108 s while it was on and rested for 27 s while it was off; check its start bit and its active values"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			right := scenario.Map("map.yaml")
			wrong := bytes.Replace(right, []byte(test.right), []byte(test.wrong), 1)
			if bytes.Equal(right, wrong) {
				t.Fatal("the map has no such line")
			}
			m, err := sigmap.Parse("map.yaml", wrong)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(test.want, doubted(t, "town.log", m)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestSoundMapsAreNotDoubted(t *testing.T) {
	for _, d := range scenario.Drives() {
		m, err := sigmap.Parse(d.Map, scenario.Map(d.Map))
		if err != nil {
			t.Fatal(err)
		}
		if got := doubted(t, d.Name, m); got != "" {
			t.Errorf("%s: %s", d.Name, got)
		}
	}
}
