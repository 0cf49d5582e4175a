package units

import "fmt"

// Length writes a length of time in ns for a reader: milliseconds below a second.
func Length(ns int64) string {
	if ns < 1e9 {
		return fmt.Sprintf("%.0f ms", float64(ns)/1e6)
	}
	return fmt.Sprintf("%.2f s", float64(ns)/1e9)
}
