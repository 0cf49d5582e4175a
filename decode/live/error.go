package live

// Error says in plain words what is wrong with a source and what to do.
type Error struct {
	Source string // as it was given
	Why    string
	Hint   string
	Err    error // the cause, for errors.Is; may be nil
	// Lasting tells that waiting does not help: a wrong name, a system without CAN.
	Lasting bool
}

func (e *Error) Error() string {
	text := e.Source + ": " + e.Why
	if e.Hint != "" {
		text += "; " + e.Hint
	}
	return text
}

func (e *Error) Unwrap() error { return e.Err }
