// Package measuring leads from the logs of a command to what was found in them, or to a
// failure in words: it finds the map, opens, reads and analyses every log, and tells what
// should be known besides. Commands, the page and the recorder share it. It knows no
// command line and no terminal, and writes nothing. Start with New.
package measuring
