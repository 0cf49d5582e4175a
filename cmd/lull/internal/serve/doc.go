// Package serve is the page that a log is dropped on: a server for the browser on
// the same machine and for nobody else. It takes logs and a map, keeps them in a
// private folder until it ends, has them measured by its Work, one drop after the
// other, and shows what came of them with the pages of package web. It
// measures and lays out nothing itself, and opens no path that a client names.
// Start with New.
package serve

import (
	"context"

	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/source"
)

// Work is what a server has others do.
type Work struct {
	Version string
	// Measure measures logs by a map, each with the samples for its pictures. The
	// logs are files of the server's own; their order does not matter. It tells, as
	// a part of 1, how far it is, and ends early when the context does. What is to
	// be said besides the result comes as remarks, also beside an error.
	Measure func(ctx context.Context, m *decode.Map, logs []source.Input, told func(part float64)) (side *page.Side, remarks []string, err error)
	// Compare holds the side after a repair against the one before, of two vehicles only
	// where that is asked for: the error is a *measuring.TwoVehicles else.
	Compare func(before, after *words.Report, twoVehicles bool) (*words.CompareReport, error)
	// Free tells how many bytes the disk of a folder has left.
	Free func(folder string) (int64, error)
	// Demo are the drives that can be measured without a log of one's own.
	Demo []Demo
	// Map and MapName are the map for drops that bring none; both may be empty.
	Map     []byte
	MapName string
	// Live is the recording that goes on meanwhile; nil: none.
	Live *Live
}

// Demo is a drive that comes with the program.
type Demo struct {
	Name, Title string
	Log, Map    func() []byte
	LogName     string
	MapName     string
}
