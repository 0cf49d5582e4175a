package live

// Link is a CAN interface as the system knows it.
type Link struct {
	Name string
	Kind string // "can" for hardware, "vcan" and others for software, "" if unknown
	Up   bool
	// ListenOnly reports that the controller never sends. It is meaningful only if
	// Known; Known is false if the driver does not say, or if there is no controller.
	ListenOnly, Known bool
	Bitrate           uint32 // bit/s, or 0 if unknown
}

// Acknowledges reports whether the interface takes part in the bus, that is, whether its
// controller acknowledges frames and sends error flags for those that it cannot read.
func (l *Link) Acknowledges() bool { return l.Kind == "can" && l.Known && !l.ListenOnly }
