package recording

import (
	"time"

	"lull/cmd/lull/internal/words"
)

// Audience is who is shown a recording as it goes: the terminal, and a page. None
// of its methods waits for who looks.
type Audience interface {
	// Tell shows what there is to say once.
	Tell(news words.News)
	// Look shows how the recording stands, where it is time to.
	Look(now time.Time, state func() words.LiveState)
	// Close shows what is left: how it stands in the end, and whether a frame was
	// recorded. Nothing is shown after it.
	Close(last words.LiveState, recorded bool)
}
