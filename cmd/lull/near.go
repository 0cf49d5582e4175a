package main

import (
	"sort"
	"strings"
)

// nearest returns the names that may have been meant, best first, at most three.
// A name is near where few letters are missing, added, changed or swapped.
func nearest(word string, names []string) []string {
	type candidate struct {
		name     string
		distance int
	}
	var found []candidate
	word = strings.ToLower(word)
	for _, name := range names {
		lower := strings.ToLower(name)
		d := editDistance(word, lower)
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

// editDistance counts the letters to insert, remove, replace or swap with their
// neighbour to turn one word into the other (optimal string alignment).
func editDistance(a, b string) int {
	x, y := []rune(a), []rune(b)
	rows := make([][]int, len(x)+1)
	for i := range rows {
		rows[i] = make([]int, len(y)+1)
		rows[i][0] = i
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(x); i++ {
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			d := min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				d = min(d, rows[i-2][j-2]+1)
			}
			rows[i][j] = d
		}
	}
	return rows[len(x)][len(y)]
}
