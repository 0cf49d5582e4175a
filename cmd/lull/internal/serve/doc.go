// Package serve is the server of the page that a log is dropped on, for the browser on the
// same machine and for nobody else. It takes logs and a map, keeps them in a private folder
// until it ends, has them measured by its Work, one drop after the other, and shows the
// results with the pages of package web. It measures and lays out nothing itself, and opens
// no path that a client names. Start with New.
package serve

import (
	"context"

	"lull/cmd/lull/internal/measuring"
	"lull/cmd/lull/internal/page"
	"lull/cmd/lull/internal/words"
	"lull/decode"
	"lull/pkg/source"
)

// Work is what a server leaves to others.
type Work struct {
	Version string
	// Measure measures logs by a map, each with the samples for its pictures. The logs are
	// files of the server's own; their order does not matter. It calls told with its
	// progress, from 0 to 1, and stops when the context ends. Remarks may also come with an
	// error.
	Measure func(ctx context.Context, m *decode.Map, logs []source.Input, told func(part float64)) (side *page.Side, remarks []string, err error)
	// Draft drafts a map from logs, by what was chosen, and measures them by it. before is the
	// draft of the same logs so far, nil if there is none.
	Draft func(ctx context.Context, logs []source.Input, before *measuring.Drafted, c measuring.Choices, told func(part float64)) (*measuring.Drafted, error)
	// Compare compares the sides before and after a repair. For two vehicles it returns a
	// *measuring.TwoVehicles error, unless twoVehicles is set.
	Compare func(before, after *words.Report, twoVehicles bool) (*words.CompareReport, error)
	// Remembered returns what is remembered for the next sheet, and Remember keeps it. Without
	// them nothing is.
	Remembered func() (page.Job, error)
	Remember   func(page.Job) error
	// Free returns how many bytes are left on the disk of a folder.
	Free func(folder string) (int64, error)
	// Demo are the drives that can be measured without a log of one's own.
	Demo []Demo
	// Map and MapName are the map for drops that bring none; both may be empty.
	Map     []byte
	MapName string
	// Live is the recording in progress; nil if there is none.
	Live *Live
}

// Demo is a drive that comes with the program.
type Demo struct {
	Name, Title string
	Log, Map    func() []byte
	LogName     string
	MapName     string
}
