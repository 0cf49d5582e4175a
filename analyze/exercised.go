package analyze

// Exercised says what the drive tried at all, so that the next one can try the
// rest.
type Exercised struct {
	Requests      []Tried // of each of Map.Requests, counted in episodes
	Inhibits      []Tried // of each of Map.Inhibits, counted in standstills
	ChangesOfMind int
	Signals       []Extent // what conditions read, in the map's order
}

// Tried counts how often a condition did what it is there for.
type Tried struct {
	// Caused counts the episodes whose restart the request asked for, or the
	// opportunities whose reason the inhibit is.
	Caused int
	// Also counts further ones in which it was true beside another one that is told
	// as the cause; nothing shows that it would have done alone.
	Also int
}

// Extent is the lowest and highest value that a signal had, in its own unit.
type Extent struct {
	Signal   int // index into Map.Signals
	Seen     bool
	Min, Max float64
}

// Add takes a further value.
func (x *Extent) Add(v float64) {
	if !x.Seen {
		x.Seen, x.Min, x.Max = true, v, v
		return
	}
	x.Min, x.Max = min(x.Min, v), max(x.Max, v)
}
