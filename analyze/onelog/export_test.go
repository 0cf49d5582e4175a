package onelog

// PushAll makes the Run hand on each frame at once.
func (r *Run) PushAll() { r.pushAll = true }

// Aside is how many frames were put aside.
func (r *Run) Aside() int64 { return r.lanes.count }
