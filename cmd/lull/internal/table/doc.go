// Package table sets a result for a person at a terminal, as wide as that is, and in
// Markdown: paragraphs from package words, and grids whose columns go where there is no
// room. It words, analyses and opens nothing. Start with Write.
package table
