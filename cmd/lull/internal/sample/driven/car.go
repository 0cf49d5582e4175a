package driven

import (
	"fmt"
	"strings"
)

// CarMap is the map of a CarLog.
const CarMap = `format: 1
vehicle: Tallowmere 1.2
frames:
  - id: 0x1A0
    module: engine control
    signals:
      rpm:  {start: 0, length: 16, factor: 0.25, unit: rpm, role: engine_speed}
      stop: {start: 16, length: 1, role: stop_command}
`

// CarBegan is the first stamp of a CarLog, in seconds.
const CarBegan = 1772442900

// CarLog is a small log, written by hand: one frame every 10 ms. The zero value is empty.
type CarLog struct {
	text strings.Builder
	at   int // ms from the start
}

// Hold appends so many milliseconds of one engine speed, in rpm, and one stop command, 0 or
// 1.
func (l *CarLog) Hold(rpm, stop, ms int) {
	for end := l.at + ms; l.at < end; l.at += 10 {
		raw := rpm * 4
		fmt.Fprintf(&l.text, "(%d.%03d000) can0 1A0#%02X%02X%02X\n", CarBegan+l.at/1000, l.at%1000, raw&0xFF, raw>>8, stop)
	}
}

func (l *CarLog) String() string { return l.text.String() }
