package analyze

import "lull/decode"

// EpisodeNote is what should be known of an episode besides its figures, as data:
// whoever shows it puts the sentence together. It is one of the types below.
type EpisodeNote interface{ note() }

// CommandUnseen is for how long a command was not seen: the starter command in a
// restart, so that what the starter did in it is not known, or the stop command as the
// engine stopped, so that whether it stalled is not.
type CommandUnseen struct {
	Role   decode.Role
	Length int64 // ns
}

// GapInside is a gap of the recording inside an episode that was seen to end.
type GapInside struct{}

// StopTakenBack is a stop command that fell and rose again before anything came of it.
type StopTakenBack struct{}

func (CommandUnseen) note() {}
func (GapInside) note()     {}
func (StopTakenBack) note() {}
