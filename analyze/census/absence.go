package census

// absence is a time in which nothing came. Times are ns from the first frame.
type absence struct {
	start, end int64
	part       int // of the log: how often time ran back before it
	// alone is the part of it in which other frames came, as far as is known when
	// it ends: its length less the last absence of all frames in it.
	alone int64
}

func (a absence) length() int64 { return a.end - a.start }

// longest keeps those of the absences that it is given which are the longest by
// their field alone: pauses of a recording do not crowd out what is looked for.
type longest struct {
	most int
	list []absence
	// shortest is the index of the shortest kept, once the list is full.
	shortest int
	// dropped is the greatest that was not kept.
	dropped int64
}

func (l *longest) add(a absence) {
	if len(l.list) < l.most {
		l.list = append(l.list, a)
		if len(l.list) == l.most {
			l.findShortest()
		}
		return
	}
	least := l.list[l.shortest].alone
	if a.alone <= least {
		l.dropped = max(l.dropped, a.alone)
		return
	}
	l.dropped = max(l.dropped, least)
	l.list[l.shortest] = a
	l.findShortest()
}

func (l *longest) findShortest() {
	l.shortest = 0
	for i := range l.list {
		if l.list[i].alone < l.list[l.shortest].alone {
			l.shortest = i
		}
	}
}
