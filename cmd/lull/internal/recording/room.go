package recording

import (
	"fmt"
	"time"
)

const (
	diskEvery = 5 * time.Second
	// littleDisk and littleTime are the free space, in bytes and in recording time, below
	// which a warning is due.
	littleDisk = 200 << 20
	littleTime = 15 * time.Minute
)

// lookAtRoom measures the free space if that is due, and warns once if there is little.
func (r *Recorder) lookAtRoom(now time.Time) {
	if now.Sub(r.measured) >= diskEvery && r.folder != "" {
		r.weigh()
		if left, ok := r.timeLeft(now); !r.warned && r.room > 0 && (r.room < littleDisk || ok && left < littleTime) {
			r.warned = true
			text := fmt.Sprintf("only %s free where the log is written", bytesText(r.room))
			if ok && left < 24*time.Hour {
				text += fmt.Sprintf(", enough for about %d min", int(left.Minutes()))
			}
			r.warn("%s; make room, or end the recording in time", text)
		}
	}
}

// spaceText says how much room there is.
func (r *Recorder) spaceText() string {
	r.weigh()
	if r.folder == "" || r.room == 0 {
		return ""
	}
	return fmt.Sprintf(" (%s free)", bytesText(r.room))
}

// weigh measures the free space.
func (r *Recorder) weigh() {
	r.measured = r.now()
	if r.folder == "" {
		return
	}
	if room, err := r.free(r.folder); err == nil {
		r.room = room
	}
}

// bytesText formats a number of bytes.
func bytesText(n int64) string {
	switch {
	case n >= 10e9:
		return fmt.Sprintf("%d GB", n/1e9)
	case n >= 1e9:
		return fmt.Sprintf("%.1f GB", float64(n)/1e9)
	}
	return fmt.Sprintf("%d MB", n/1e6)
}

// timeLeft returns how long the room lasts at the rate so far.
func (r *Recorder) timeLeft(now time.Time) (time.Duration, bool) {
	took := now.Sub(r.began)
	if r.info.Bytes == 0 || took < diskEvery {
		return 0, false
	}
	seconds := float64(r.room) / (float64(r.info.Bytes) / took.Seconds())
	return time.Duration(min(seconds, 1e9)) * time.Second, true
}
