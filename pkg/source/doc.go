// Package source reads files, folders and standard input, packed or not, and writes
// files that are either complete or not there at all. It knows nothing of what the
// bytes mean. Start with Expand and Open for input, and WriteFile for output.
package source
