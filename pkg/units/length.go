package units

import "fmt"

// Length formats a duration in nanoseconds for a reader: in milliseconds below one
// second, else in seconds.
func Length(ns int64) string {
	if ns < 1e9 {
		return fmt.Sprintf("%.0f ms", float64(ns)/1e6)
	}
	return fmt.Sprintf("%.2f s", float64(ns)/1e9)
}
