package analyze

import "lull/pkg/bounds"

// News is what a Run found since it was asked last: what a person who watches the
// drive wants to know at once. The Result says the same and more.
type News struct {
	// Episodes that ended, two seconds after the engine ran again, when all of
	// them but the take-off is measured. They have the numbers that the Result gives
	// them; limits on what is not measured yet are not judged.
	Episodes    []Episode
	Standstills []Standstill
	// Findings on episodes, standstills and gaps. Modules that fell silent together
	// are told one by one where they come back one by one. Findings about the log as
	// a whole are in the Result alone.
	Findings []Finding
	// Doubts are grave reasons not to believe what was told so far, each once.
	Doubts []Doubt
}

// Status is the present state of the car, as far as frames have told.
type Status struct {
	Now int64 // ns from the first frame

	Engine Truth // runs
	// Stop is the onset of a stop that has not ended yet; nil if there is none.
	Stop *bounds.Instant
	// Rests tells that the engine came to rest in it.
	Rests bool
	// Stands reports whether the vehicle stands; Standing since when, where it does.
	Stands   Truth
	Standing *bounds.Instant
	// Measuring is how many ended episodes wait for their last samples.
	Measuring int
}
