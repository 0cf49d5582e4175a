// Package output turns what the analysis found into what a person or a program
// reads: a table for the terminal, JSON, newline-delimited JSON, CSV and
// Markdown. It analyses nothing, opens nothing and rounds only what a person is
// to read: the table and Markdown. Start with Report.
package output
