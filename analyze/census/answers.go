package census

import (
	"cmp"
	"slices"

	"lull/decode"
	"lull/decode/standard"
	"lull/decode/transport"
)

// mostAnswers is how many different answers to a scan tool are told apart.
const mostAnswers = 4096

// Answer is what a module answered to a scan tool (ISO 15765-4).
type Answer struct {
	Bus      string
	ID       uint32 // of the module's frames
	Extended bool
	Service  uint8 // of the request
	// Refused: the module said that it cannot or will not; Code is its reason.
	Refused bool
	Code    uint8
	// Number is the PID of services 01 and 02 or the identifier of service 22; -1 with
	// services of which the answer has none. Of an answer with several identifiers the
	// first is counted: the lengths of the others are not known.
	Number int
	Count  int64
	// Least and Most are the extremes of the value as it was sent, where the PID is a
	// number that a standard names.
	HasValue    bool
	Least, Most int64
}

// PIDs of services, their answers begin with them.
const (
	currentValues   = 0x01
	freezeFrame     = 0x02
	byIdentifier    = 0x22
	positive        = 0x40
	refused         = 0x7F
	responsePending = 0x78
)

type answerKey struct {
	row, number   int
	service, code uint8
	refused       bool
}

// answers counts what modules answer.
type answers struct {
	transport transport.Reassembler
	at        map[answerKey]int
	list      []Answer
	row       []int // of each answer
	left      int64 // beyond mostAnswers
}

// take takes a frame of a module's answers.
func (a *answers) take(row int, f *decode.Frame) {
	from := transport.Sender{Bus: f.Bus, ID: f.ID, Extended: f.Flags.Has(decode.Extended), Address: -1}
	message, whole := a.transport.Push(from, f.Data[:min(int(f.Len), decode.MaxPayload)], transport.Stamp{Time: f.Time, Line: f.Line})
	if !whole || len(message) == 0 {
		return
	}
	switch service, rest := message[0]-positive, message[1:]; {
	case message[0] == refused && len(rest) >= 2:
		// That the answer comes later is none.
		if rest[1] != responsePending {
			a.count(answerKey{row: row, number: -1, service: rest[0], code: rest[1], refused: true}, nil)
		}
	case message[0] < positive || message[0] == refused:
	case service == currentValues:
		a.values(row, rest)
	case service == freezeFrame && len(rest) >= 1:
		a.count(answerKey{row: row, number: int(rest[0]), service: service}, nil)
	case service == byIdentifier && len(rest) >= 2:
		a.count(answerKey{row: row, number: int(rest[0])<<8 | int(rest[1]), service: service}, nil)
	default:
		a.count(answerKey{row: row, number: -1, service: service}, nil)
	}
}

// values takes the values of an answer of service 01, as far as their lengths are known.
func (a *answers) values(row int, rest []byte) {
	for len(rest) >= 1 {
		pid := rest[0]
		rest = rest[1:]
		n := decode.PIDBytes(currentValues, pid)
		// A fuel trim has a second byte on some engines: what stands behind it is found
		// only if it is the last.
		trim := pid >= 0x06 && pid <= 0x09
		if n == 0 || trim {
			a.count(answerKey{row: row, number: int(pid), service: currentValues}, nil)
			return
		}
		if n > len(rest) {
			return // it is cut off
		}
		a.count(answerKey{row: row, number: int(pid), service: currentValues}, rest[:n])
		rest = rest[n:]
	}
}

func (a *answers) count(k answerKey, data []byte) {
	at, ok := a.at[k]
	if !ok {
		if len(a.list) == mostAnswers {
			a.left++
			return
		}
		if a.at == nil {
			a.at = make(map[answerKey]int)
		}
		at = len(a.list)
		a.at[k] = at
		a.list = append(a.list, Answer{Service: k.service, Refused: k.refused, Code: k.code, Number: k.number})
		a.row = append(a.row, k.row)
	}
	x := &a.list[at]
	x.Count++
	if data == nil {
		return
	}
	p, named := standard.FindPID(uint8(k.number))
	raw, whole := p.Raw(data)
	if !named || !whole {
		return
	}
	if !x.HasValue {
		x.HasValue, x.Least, x.Most = true, raw, raw
	}
	x.Least, x.Most = min(x.Least, raw), max(x.Most, raw)
}

// result lists the answers in the order of their identifiers, services and numbers.
func (a *answers) result(c *Counter) []Answer {
	list := slices.Clone(a.list)
	for i := range list {
		k := c.rows[a.row[i]].key
		list[i].Bus, list[i].ID, list[i].Extended = c.buses[k.bus].name, k.id, k.extended
	}
	order := make(map[string]int)
	for i, b := range c.buses {
		order[b.name] = i
	}
	slices.SortStableFunc(list, func(x, y Answer) int {
		return cmp.Or(cmp.Compare(order[x.Bus], order[y.Bus]), boolean(x.Extended)-boolean(y.Extended), cmp.Compare(x.ID, y.ID),
			boolean(x.Refused)-boolean(y.Refused), cmp.Compare(x.Service, y.Service), cmp.Compare(x.Number, y.Number), cmp.Compare(x.Code, y.Code))
	})
	return list
}
