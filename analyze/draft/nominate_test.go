package draft

import (
	"slices"
	"testing"
)

func TestANameIsSplitWhereItsCaseChangesAndAtWhatIsNoLetter(t *testing.T) {
	for name, want := range map[string][]string{
		"":               nil,
		"ENG_SPEED":      {"eng", "speed"},
		"EngSpd":         {"eng", "spd"},
		"nMot":           {"n", "mot"},
		"ABSBrakeLamp":   {"abs", "brake", "lamp"},
		"engine.speed-1": {"engine", "speed", "1"},
		"__Öltemp ":      {"öltemp"},
		"T15":            {"t15"},
		"Kl15_On":        {"kl", "15", "on"},
		"Supply12V":      {"supply", "12", "v"},
	} {
		if got := wordsOf(name); !slices.Equal(got, want) {
			t.Errorf("%q: %q, want %q", name, got, want)
		}
	}
}

// Of four signals of four modules three say the same within the tolerance, of which one
// stands still, and a fifth is of the same module as the first.
func TestWhatSeveralModulesSayAlikeWeighsMore(t *testing.T) {
	says := func(id uint32, more float64, moves bool) nominee {
		n := nominee{field: field{s: &stream{id: id}}, moves: moves}
		for i := range 101 {
			n.values.t = append(n.values.t, float64(i)/10)
			n.values.v = append(n.values.v, 50+float64(i)/10+more)
		}
		return n
	}
	list := []nominee{says(1, 0, true), says(2, 1, true), says(3, 1, false), says(4, 20, true), says(1, 0.5, true)}
	agreement(list, 2)
	for i, want := range []float64{0.8, 0.8, 0, 0, 0.8} {
		if list[i].score != want {
			t.Errorf("signal %d: %v, want %v", i, list[i].score, want)
		}
	}
	one := []nominee{says(1, 0, true)}
	if agreement(one, 2); one[0].score != 0 {
		t.Errorf("alone it gains %v", one[0].score)
	}
}
