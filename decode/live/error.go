package live

// Error describes in plain words what is wrong with a source and what to do about it.
type Error struct {
	Source string // as given
	Why    string
	Hint   string
	Err    error // the cause, for errors.Is; may be nil
	// Lasting reports that waiting does not help, as with a wrong name or a system
	// without CAN.
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
