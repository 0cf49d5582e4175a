package main

import (
	"sort"
	"strings"

	"lull/pkg/spelling"
)

// nearest returns at most three names that may have been meant, best first: those with few
// letters missing, added, changed or swapped.
func nearest(word string, names []string) []string {
	type candidate struct {
		name     string
		distance int
	}
	var found []candidate
	word = strings.ToLower(word)
	for _, name := range names {
		lower := strings.ToLower(name)
		d := spelling.Distance(word, lower)
		if len(word) >= 3 && strings.HasPrefix(lower, word) {
			d = min(d, 1)
		}
		if d <= max(1, len([]rune(word))/3) {
			found = append(found, candidate{name, d})
		}
	}
	sort.SliceStable(found, func(i, j int) bool { return found[i].distance < found[j].distance })
	near := make([]string, 0, 3)
	for _, c := range found[:min(3, len(found))] {
		near = append(near, c.name)
	}
	return near
}
