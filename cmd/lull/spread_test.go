package main

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestAFlagTakesEveryArgumentUpToTheNextFlag(t *testing.T) {
	for _, c := range []struct{ in, want []string }{
		{in: []string{"report", "a", "--before", "b", "c", "-o", "d"}, want: []string{"report", "a", "--before=b", "--before=c", "-o", "d"}},
		{in: []string{"report", "--before", "b", "--quiet", "a"}, want: []string{"report", "--before=b", "--quiet", "a"}},
		{in: []string{"report", "--before=b", "c", "--check"}, want: []string{"report", "--before=b", "--before=c", "--check"}},
		{in: []string{"report", "a", "--before", "-"}, want: []string{"report", "a", "--before=-"}},
		{in: []string{"report", "a", "--before"}, want: []string{"report", "a", "--before="}},
		{in: []string{"report", "a", "--before", "--check"}, want: []string{"report", "a", "--before=", "--check"}},
		{in: []string{"--quiet", "compare", "--before", "a", "b", "--map", "m", "--after", "c"}, want: []string{"--quiet", "compare", "--before=a", "--before=b", "--map", "m", "--after=c"}},
		{in: []string{"report", "--before", "b", "--", "--before", "a"}, want: []string{"report", "--before=b", "--", "--before", "a"}},
		{in: []string{"episodes", "a", "--before", "b"}, want: []string{"episodes", "a", "--before", "b"}},
		{in: nil, want: nil},
	} {
		if d := cmp.Diff(c.want, spreadFor(c.in)); d != "" {
			t.Errorf("%v: (-want +got)\n%s", c.in, d)
		}
	}
}
