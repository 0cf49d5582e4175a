// Package differential compares lull's readers with independent programs: log lines with
// python-can, fields of payloads with bitstruct. It contains only tests, which are skipped if
// Debian's python3-can or python3-bitstruct is not installed.
package differential
