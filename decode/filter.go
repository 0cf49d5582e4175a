package decode

// Filter decides by the identifier alone whether a map may name a frame, so that other
// frames can be skipped unread. It is immutable and may be shared by goroutines.
type Filter struct {
	standard [1 << 11]bool
	extended idTable
	groups   idTable
}

// NewFilter returns the filter of a map.
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

// WantsStandard reports whether the map may name frames with an 11-bit identifier.
func (f *Filter) WantsStandard(id uint32) bool { return f.standard[id&0x7FF] }

// WantsExtended reports whether the map may name frames with a 29-bit identifier.
func (f *Filter) WantsExtended(id uint32) bool {
	return f.extended.find(id) != (span{}) || f.groups.find(PGN(id)) != (span{})
}

// Passed is a run of frames that a reader skipped by a Filter. Their times never run
// back, and neighbours lie less than PassedStep apart. A run that is close to the frame
// after it is reported by that frame's Skipped instead.
type Passed struct {
	Count       int64
	First, Last int64 // times, as Frame.Time
	Line        int64 // of the first frame
}

// PassedStep is the time in nanoseconds between two neighbours from which on a new run
// begins. No shorter time without frames can be a gap.
const PassedStep = 100e6
