package decode

// Only makes the Decoder leave out the samples of signals that are not wanted. Entries
// match even if all their samples are left out. Entries with selectors are not affected.
func (d *Decoder) Only(wanted func(signal int) bool) {
	for i := range d.entries {
		l := &d.entries[i]
		if l.order != nil {
			continue
		}
		kept := l.fields[:0]
		for _, f := range l.fields {
			if wanted(f.signal) {
				kept = append(kept, f)
			}
		}
		l.fields = kept
		l.short = newShort(l)
	}
}
