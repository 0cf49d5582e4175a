package sigmap

import (
	"testing"

	"lull/decode"
)

func TestTheExampleParses(t *testing.T) {
	m, err := Load("testdata/example.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if s := m.RoleSignal(decode.EngineSpeed); s == nil || s.Name != "engine_speed" || s.Scale.Factor != 0.25 {
		t.Errorf("engine speed = %+v", s)
	}
}
