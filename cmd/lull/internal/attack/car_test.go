//go:build attack && linux

package attack

import "lull/cmd/lull/internal/sample/driven"

// drive is a log in which the engine is stopped and runs again so many times.
func drive(episodes int) string {
	var car driven.CarLog
	car.Hold(800, 0, 2000)
	for range episodes {
		car.Hold(400, 1, 200)
		car.Hold(0, 1, 2000)
		car.Hold(250, 0, 200)
		car.Hold(800, 0, 3000)
	}
	return car.String()
}
