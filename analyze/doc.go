// Package analyze turns frames into facts: stop and restart episodes,
// standstills, starter operations, silent modules, findings. It reads no text
// format and opens nothing.
package analyze
