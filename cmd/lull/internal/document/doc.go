// Package document writes a result for programs: JSON, newline-delimited JSON, CSV and
// workbooks. Nothing in them is rounded. The schemas of the JSON documents are in the
// folder schema. The package analyses nothing, opens nothing and words nothing that a
// program is to read. Start with WriteJSON.
package document
