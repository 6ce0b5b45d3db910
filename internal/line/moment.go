package line

import "time"

// Minute is a moment on the record: whole minutes since 1970-01-01 00:00 UTC.
// Seconds are dropped; a moment belongs to the half-open stretch it starts.
type Minute int64

// Far is later than any moment a record can hold: "no end in sight".
const Far Minute = 1 << 40

// MinuteOf drops the seconds of t.
func MinuteOf(t time.Time) Minute {
	s := t.Unix()
	if s < 0 && s%60 != 0 {
		return Minute(s/60 - 1)
	}
	return Minute(s / 60)
}

// Time is the moment in UTC.
func (m Minute) Time() time.Time { return time.Unix(int64(m)*60, 0).UTC() }

// Add moves by whole elapsed minutes of d, also across a clock change.
func (m Minute) Add(d time.Duration) Minute { return m + Minute(d/time.Minute) }

// Sub is the elapsed time from o to m.
func (m Minute) Sub(o Minute) time.Duration { return time.Duration(m-o) * time.Minute }

// String is the moment in RFC 3339, in UTC.
func (m Minute) String() string { return m.Time().Format(time.RFC3339) }

// Stretch is the half-open stretch of time [From, Until).
type Stretch struct{ From, Until Minute }

// Holds reports whether at lies in the stretch.
func (s Stretch) Holds(at Minute) bool { return s.From <= at && at < s.Until }

// Past is the part of the stretch that has come by now: of one to come, nothing
// from its start.
func (s Stretch) Past(now Minute) Stretch { return Stretch{s.From, max(s.From, min(s.Until, now))} }
