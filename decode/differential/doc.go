// Package differential holds lull's readers against independent programs that
// read and write the same: log lines against python-can, fields of payloads
// against bitstruct. It is tests alone; they skip, saying so, where Debian's
// python3-can or python3-bitstruct is not installed.
package differential
