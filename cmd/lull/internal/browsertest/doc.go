// Package browsertest holds nothing but tests that use the pages of lull serve as
// people do: the program itself, real files, a real browser, keys and mouse.
package browsertest
