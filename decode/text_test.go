package decode_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/decode"
)

// A value is shown as its label if it has one, else as a number with its unit.
func TestValuesInWords(t *testing.T) {
	half, err := decode.ParseScale("0.5", "0")
	if err != nil {
		t.Fatal(err)
	}
	labels := []decode.Label{{Raw: 1, Text: "pressed"}}
	for _, test := range []struct {
		signal decode.Signal
		value  float64
		want   string
	}{
		{decode.Signal{Labels: labels, Scale: decode.Identity}, 1, "pressed"},
		{decode.Signal{Labels: labels, Scale: decode.Identity}, 2, "2"},
		{decode.Signal{Labels: labels, Scale: decode.Identity}, 1.5, "1.5"},
		{decode.Signal{Labels: labels, Scale: half}, 1, "1"},
		{decode.Signal{Unit: "degC"}, 71.23456, "71.23 degC"},
		{decode.Signal{}, -3, "-3"},
	} {
		if got := test.signal.TextOf(test.value); got != test.want {
			t.Errorf("%v: %q, want %q", test.value, got, test.want)
		}
	}
}

// Signals returns the signals of an expression, each once, in order of occurrence.
func TestSignalsOfAnExpression(t *testing.T) {
	e := &decode.Expr{Op: decode.OpAll, Children: []*decode.Expr{
		{Op: decode.OpIs, Signal: 3},
		{Op: decode.OpNot, Children: []*decode.Expr{{Op: decode.OpAny, Children: []*decode.Expr{{Op: decode.OpBelow, Signal: 1}, {Op: decode.OpAbove, Signal: 3}}}}},
	}}
	if diff := cmp.Diff([]int{3, 1}, e.Signals()); diff != "" {
		t.Error(diff)
	}
}
