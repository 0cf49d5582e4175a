package onelog_test

import (
	"fmt"
	"os"

	"lull/analyze/onelog"
	"lull/decode/candump"
	"lull/decode/sigmap"
)

// From a log and a map to the episodes.
func ExampleRun() {
	m, err := sigmap.Load("testdata/yard.yaml")
	if err != nil {
		fmt.Println(err)
		return
	}
	log, err := os.Open("testdata/yard.log")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer log.Close()

	run := onelog.NewRun(m)
	reader := candump.NewReader(log, candump.Options{})
	for reader.Scan() {
		run.Push(reader.Frame())
	}
	if err := reader.Err(); err != nil {
		fmt.Println("the log was not read to its end:", err)
		return
	}
	for _, e := range run.Finish(reader.Info()).Episodes {
		fmt.Printf("episode %d: %s\n", e.N, e.Outcome)
		for _, v := range e.Metrics {
			switch {
			case v.Key != "restart_latency" && v.Key != "voltage_min":
			case v.Absent != nil:
				fmt.Printf("%s: %T %+v\n", v.Key, v.Absent, v.Absent)
			default:
				fmt.Printf("%s: %.2f %s, between %.2f and %.2f\n", v.Key, v.Best, v.Unit, v.Low, v.High)
			}
		}
	}
	// Output:
	// episode 1: restarted
	// restart_latency: 0.35 s, between 0.31 and 0.39
	// voltage_min: analyze.NoSignal {Role:battery_voltage}
}
