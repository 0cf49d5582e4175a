package onelog_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/analyze/scenario"
	"lull/decode"
	"lull/decode/sigmap"
)

// doubted tells the findings that doubt the map.
func doubted(t *testing.T, drive string, m *decode.Map) string {
	t.Helper()
	var texts []string
	for _, f := range resultOf(t, drive, m).Findings {
		if f.Code == "implausible_signal" {
			texts = append(texts, tellData(f.About))
		}
	}
	return strings.Join(texts, "\n")
}

func TestASlipInTheMapIsFoundWithItsLikelyCause(t *testing.T) {
	tests := []struct {
		name, right, wrong, want string
	}{
		{"a factor of ten", "factor: 0.25, unit: rpm,", "factor: 2.5, unit: rpm,", "ImplausibleSignal {Signal:engine_speed Role:engine_speed Reads:10420 SystemVoltage:12 Slip:{Factors:[0.25, 0.125, 0.1]}}"},
		{"the engine speed starts a byte too early", "{start: 16, length: 16, factor: 0.25, unit: rpm,", "{start: 8, length: 16, factor: 0.25, unit: rpm,", "ImplausibleSignal {Signal:engine_speed Role:engine_speed Reads:16320 SystemVoltage:12 Slip:{HasStart:true Start:16 High:1036.5}}"},
		{"the road speed's bytes the wrong way round", "road_speed:    {start: 7, length: 16, order: big,", "road_speed:    {start: 0, length: 16,", "ImplausibleSignal {Signal:road_speed Role:vehicle_speed Reads:652.89 SystemVoltage:12 Slip:{Order:big HasStart:true Start:7 High:34.86}}"},
		{"the battery's millivolts taken for centivolts", "battery_voltage: {start: 0, length: 16, unit: mV,", "battery_voltage: {start: 0, length: 16, factor: 0.01, unit: V,", "ImplausibleSignal {Signal:battery_voltage Role:battery_voltage Reads:141.49 SystemVoltage:12 Slip:{Factors:[0.1] Low:9.554 High:14.149}}"},
		{"the stop command turned round", "stop_lamp:     {start: 3, length: 1,", "stop_lamp:     {start: 3, length: 1, active: [0],", "ImplausibleCommand {Signal:stop_lamp RanWhileOn:108.410 RestedOff:27.260}"},
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
