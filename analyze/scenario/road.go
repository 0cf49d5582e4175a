package scenario

// body is the car on the road and the hydraulics of its gearbox.
type body struct {
	speed  float64 // km/h
	accel  float64 // m/s2
	wanted float64 // m/s2 that driver and clutch ask for
	jerk   float64 // m/s3, how fast the one follows the other

	pressure float64 // kPa
	holds    float64 // kPa that the electric pump keeps with the engine off
	sagLag   float64 // s in which the pressure sinks to it
	filled   float64 // 0..1, the take-off clutch
}

// clutchHolds is the pressure below which the take-off clutch empties.
const clutchHolds = 300 // kPa

// move advances by one step; engine reports whether the engine drives its pump.
func (b *body) move(engine bool) {
	switch {
	case engine:
		b.pressure = toward(b.pressure, 910, stepSeconds/0.12)
	default:
		b.pressure = toward(b.pressure, b.holds, stepSeconds/b.sagLag)
	}
	if b.pressure > clutchHolds {
		b.filled = min(b.filled+stepSeconds/0.8, 1)
	} else {
		b.filled = max(b.filled-stepSeconds/0.7, 0)
	}
	most := mul(b.jerk, stepSeconds)
	b.accel += limit(b.wanted-b.accel, -most, most)
	b.speed += mul(b.accel, stepSeconds*3.6)
	if b.speed <= 0 {
		b.speed = 0
		if b.accel < 0 {
			b.accel = 0
		}
	}
}
