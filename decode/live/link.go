package live

// Link is a CAN interface as the system knows it.
type Link struct {
	Name string
	Kind string // "can" hardware, "vcan" and others made of software, "" not told
	Up   bool
	// ListenOnly tells that its controller keeps quiet. Known is false where the
	// driver does not say, or there is no controller.
	ListenOnly, Known bool
	Bitrate           uint32 // bit/s; 0: not told
}

// Acknowledges reports whether the interface takes part in the bus: its controller
// acknowledges frames, and sends error flags where it cannot read them.
func (l *Link) Acknowledges() bool { return l.Kind == "can" && l.Known && !l.ListenOnly }
