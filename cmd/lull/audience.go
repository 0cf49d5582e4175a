package main

import (
	"time"

	"lull/cmd/lull/internal/words"
)

// audience is who is shown a recording as it goes: the terminal, and a page. None
// of its methods waits for who looks.
type audience interface {
	// tell shows what there is to say once.
	tell(news words.News)
	// look shows how the recording stands, where it is time to.
	look(now time.Time, state func() words.LiveState)
	// close shows what is left. Nothing is shown after it.
	close()
}
