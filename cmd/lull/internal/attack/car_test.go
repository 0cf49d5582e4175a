//go:build attack && linux

package attack

import (
	"fmt"
	"strings"
)

// carMap is the map of the logs that drive writes.
const carMap = `format: 1
vehicle: Tallowmere 1.2
frames:
  - id: 0x1A0
    module: engine control
    signals:
      rpm:  {start: 0, length: 16, factor: 0.25, unit: rpm, role: engine_speed}
      stop: {start: 16, length: 1, role: stop_command}
`

// driveBegan is the first stamp of a drive, in seconds.
const driveBegan = 1772442900

// drive is a log in which the engine is stopped and runs again so many times.
func drive(episodes int) string {
	var b strings.Builder
	at := 0 // ms
	write := func(rpm, stop, ms int) {
		for end := at + ms; at < end; at += 10 {
			raw := rpm * 4
			fmt.Fprintf(&b, "(%d.%03d000) can0 1A0#%02X%02X%02X\n", driveBegan+at/1000, at%1000, raw&0xFF, raw>>8, stop)
		}
	}
	write(800, 0, 2000)
	for range episodes {
		write(400, 1, 200)
		write(0, 1, 2000)
		write(250, 0, 200)
		write(800, 0, 3000)
	}
	return b.String()
}
