package census

// absence is a time in which nothing came. Times are ns from the first frame.
type absence struct {
	start, end int64
	part       int // of the log: how often time ran back before it
}

func (a absence) length() int64 { return a.end - a.start }

// longest keeps the longest absences that it is given.
type longest struct {
	most int
	list []absence
	// shortest is the index of the shortest kept, once the list is full.
	shortest int
	// dropped is the length of the longest one that was not kept.
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
	least := l.list[l.shortest].length()
	if a.length() <= least {
		l.dropped = max(l.dropped, a.length())
		return
	}
	l.dropped = max(l.dropped, least)
	l.list[l.shortest] = a
	l.findShortest()
}

func (l *longest) findShortest() {
	l.shortest = 0
	for i := range l.list {
		if l.list[i].length() < l.list[l.shortest].length() {
			l.shortest = i
		}
	}
}
