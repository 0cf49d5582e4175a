package recording

import (
	"time"

	"lull/cmd/lull/internal/words"
)

// Audience is shown a recording as it goes: the terminal, or a page. None of its methods
// waits for anyone.
type Audience interface {
	// Tell shows a piece of news, once.
	Tell(news words.News)
	// Look shows the state of the recording, if an update is due.
	Look(now time.Time, state func() words.LiveState)
	// Close shows the final state, and whether a frame was recorded. Nothing is shown after
	// it.
	Close(last words.LiveState, recorded bool)
}
