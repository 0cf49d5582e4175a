package draft

import (
	"lull/decode"
)

// Nominee is a signal of a database of the bus. Its words and its unit only nominate it;
// how it behaves decides.
type Nominee struct {
	Message, Name string
	Line          int
	Entry         decode.Entry
	Field         decode.Signal // place, sign, float, labels, unit as the database has it
	Factor        float64
	Offset        float64
	Page          *decode.Signal
	PageValue     int64
}

func (b *bench) nominated(list []Nominee) {}
