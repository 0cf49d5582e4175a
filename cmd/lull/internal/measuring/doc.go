// Package measuring turns the logs of a command into a result, or into a failure in words:
// it finds the map; opens, reads and analyses every log; and reports what else the user
// should know. The commands, the page and the recorder share it. It knows no command line
// and no terminal, and writes nothing. Start with New.
package measuring
