package markup_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"lull/cmd/lull/internal/markup"
)

func TestElementsAreFoundAndFaultsAreTold(t *testing.T) {
	for _, c := range []struct {
		page string
		want []string
		ok   bool
	}{
		{"<!DOCTYPE html>\n<p class='a'>x<br>&eacute;</p><script src=x defer></script>", []string{"p", "br", "script"}, true},
		{"<svg><path d=\"M0 0\"/></svg>", []string{"svg", "path"}, true},
		{"<p>&lt;script&gt;</p>", []string{"p"}, true},
		{"<p><script>a</script></p>", []string{"p", "script"}, true},
		{"<div><p>x</p>", nil, false},
		{"<p>\x1b</p>", nil, false},
		{"<p", nil, false},
		{"", nil, true},
	} {
		list, err := markup.Elements(c.page)
		if (err == nil) != c.ok {
			t.Errorf("%q: %v", c.page, err)
		}
		var names []string
		for _, e := range list {
			names = append(names, e.Name.Local)
		}
		if d := cmp.Diff(c.want, names); d != "" {
			t.Errorf("%q: (-want +got)\n%s", c.page, d)
		}
	}
}
