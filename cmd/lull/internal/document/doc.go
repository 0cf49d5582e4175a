// Package document writes a result for programs: JSON, newline-delimited JSON, CSV and
// workbooks. Nothing in them is rounded; the schemas of the JSON documents lie in schema.
// It analyses nothing, opens nothing and words nothing that a program is to read. Start
// with WriteJSON.
package document
