package foreign

import (
	"fmt"
	"strings"

	"lull/analyze/scenario"
)

// reading is what a person read off the instruments at a moment.
type reading struct {
	at    int64
	speed float64 // km/h
	turns float64 // rpm
}

// marksText is what a person who sat beside the driver marked: each thing shown, a
// little late at both ends, and a few values read off the instruments. Times are
// seconds from the first frame.
func (u *Unknown) marksText(shown []scenario.Shown, readings []reading) []byte {
	d := newDice(u.seed, 71)
	var t strings.Builder
	t.WriteString("# NAME FROM TO [VALUE UNIT], seconds from the first frame\n")
	since := func(at int64) float64 { return float64(at-u.from) / 1e9 }
	for _, s := range shown {
		fmt.Fprintf(&t, "%s %.2f %.2f\n", s.Name, since(s.From)+d.between(0.1, 0.6), since(s.To)+d.between(0.1, 0.6))
	}
	for _, r := range readings {
		at := since(r.at) + d.between(0, 0.4)
		if r.speed > 0 {
			unit, value := "km/h", r.speed
			if u.Traits.Miles {
				unit, value = "mph", r.speed/1.609344
			}
			fmt.Fprintf(&t, "vehicle_speed %.2f %.2f %d %s\n", at, at+1, nearest(mul(value, d.between(1, 1.03))), unit)
		} else {
			fmt.Fprintf(&t, "engine_speed %.2f %.2f %d rpm\n", at, at+1, 50*nearest(r.turns/50))
		}
	}
	return []byte(t.String())
}
