package scenario_test

import (
	"fmt"

	"lull/analyze/scenario"
	"lull/decode"
)

// A drive hands out frames and knows what truly happened in it.
func ExampleDrive() {
	drive := scenario.Drives()[0]
	frames := 0
	truth := drive.Play(func(*decode.Frame) { frames++ })
	first := truth.Episodes[0]
	fmt.Println(drive.Name, frames > 50_000)
	fmt.Println(first.Outcome, "asked by", first.Request.Name)
	fmt.Printf("restart latency %.3f s\n", float64(*first.Running-first.Request.At)/1e9)
	// Output:
	// town.log true
	// restarted asked by brake released
	// restart latency 0.569 s
}
