// Package recording writes what comes from live CAN interfaces into a log, measures it as
// it comes, and shows it to whoever looks: a terminal, a page. It sends nothing, and
// nobody who looks can hold it up. Start with Start.
package recording
