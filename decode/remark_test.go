package decode

import "testing"

func TestReasonsAreListedMostCommonFirst(t *testing.T) {
	names := []string{"none", "too long", "odd digits", "no frame"}
	name := func(i int) string { return names[i] }
	for _, test := range []struct {
		counts []int64
		want   string
	}{
		{[]int64{0, 0, 0, 0}, ""},
		{[]int64{0, 1, 3, 0}, "odd digits: 3; too long: 1"},
		{[]int64{0, 2, 5, 2}, "odd digits: 5; too long: 2; no frame: 2"},
	} {
		if got := ByReason(test.counts, name); got != test.want {
			t.Errorf("%v: %q, want %q", test.counts, got, test.want)
		}
	}
	if one, many := Counted(1, "line", "lines"), Counted(2, "line", "lines"); one != "1 line" || many != "2 lines" {
		t.Errorf("%q, %q", one, many)
	}
}
