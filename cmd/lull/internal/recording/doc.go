// Package recording writes frames from live CAN interfaces into a log, measures them as
// they come, and shows the recording to its audience: a terminal, a page. It sends nothing,
// and no audience can hold it up. Start with Start.
package recording
