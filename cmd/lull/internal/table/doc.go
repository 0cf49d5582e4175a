// Package table lays a result out for a person at a terminal, as wide as the terminal is,
// and in Markdown: paragraphs worded by package words, and grids that drop columns if there
// is no room. It words, analyses and opens nothing. Start with Write.
package table
