package decode

// Filter tells by the identifier alone whether a map may name a frame, so that
// the rest of a log can be passed over unread. It does not change and may be
// shared by goroutines.
type Filter struct {
	standard [1 << 11]bool
	extended idTable
	groups   idTable
}

// NewFilter makes the filter of a map.
func NewFilter(m *Map) *Filter {
	f := &Filter{}
	extended, groups := map[uint32][]int{}, map[uint32][]int{}
	add := func(id uint32, long bool) {
		switch {
		case long:
			extended[id] = []int{0}
		case id < uint32(len(f.standard)):
			f.standard[id] = true
		}
	}
	for i := range m.Entries {
		e := &m.Entries[i]
		switch e.Kind {
		case ByPGN:
			groups[e.PGN] = []int{0}
		case ByID:
			add(e.ID, e.Extended)
		default:
			add(e.Response, e.ResponseExtended)
		}
	}
	named := func([]int) span { return span{0, 1} }
	f.extended = newIDTable(extended, named)
	f.groups = newIDTable(groups, named)
	return f
}

// WantsStandard reports whether frames of an 11-bit identifier are to be read.
func (f *Filter) WantsStandard(id uint32) bool { return f.standard[id&0x7FF] }

// WantsExtended reports whether frames of a 29-bit identifier are to be read.
func (f *Filter) WantsExtended(id uint32) bool {
	return f.extended.find(id) != (span{}) || f.groups.find(PGN(id)) != (span{})
}

// Passed is a run of frames that a reader passed over by a Filter: their stamps
// never run back, and no two neighbours lie 100 ms or more apart. Runs that are
// close to the frame behind them are told by its Skipped instead.
type Passed struct {
	Count       int64
	First, Last int64 // times, as Frame.Time
	Line        int64 // of the first
}

// PassedStep is the time between two neighbours from which on a new run begins:
// no shorter time without frames can be a gap.
const PassedStep = 100e6
