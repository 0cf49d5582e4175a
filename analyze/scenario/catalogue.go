package scenario

import "time"

// date is a start of a drive.
func date(month time.Month, day, hour, minute int) int64 {
	return time.Date(2026, month, day, hour, minute, 0, 0, time.UTC).UnixNano()
}

func makeCatalogue() []Drive {
	town := petrolPlan(11, date(time.March, 2, 9, 15))
	town.legs = []leg{
		{cruise: 38, hold: 3, by: byBrake, from: sinceRest, after: 5.3},
	}
	return []Drive{
		{Name: "town.log", Title: "one stop", Map: "map.yaml", plan: &town},
	}
}
