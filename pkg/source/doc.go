// Package source is where bytes come from and go to: files, folders, standard
// input, packed or not, and output files that are whole or not there. It knows
// nothing of what the bytes mean. Start with Expand and Open; WriteFile is the
// way out.
package source
