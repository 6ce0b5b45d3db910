package line

import (
	"fmt"
	"time"
)

// Which says which of two: a wall-clock time inside the hour that happens
// twice when the clocks go back.
type Which uint8

// The answers.
const (
	NotAsked Which = iota
	First
	Second
)

// WallError is a time on the wall clock that names no one moment.
type WallError struct {
	Wall  string
	Twice bool // it happens twice and must say which; else it is skipped when the clocks go forward
}

// Error says which of the two it is.
func (e *WallError) Error() string {
	if e.Twice {
		return fmt.Sprintf("%s happens twice when the clocks go back: say first or second", e.Wall)
	}
	return fmt.Sprintf("%s does not happen: the clocks go forward over it", e.Wall)
}

// largestChange is the most by which clocks are changed (an hour in most
// zones, half an hour in some).
const largestChange = 2 * time.Hour

// OnWall is the moment at which the zone's wall clock shows wall (whose own
// zone is ignored). The error is a *WallError.
func OnWall(wall time.Time, zone *time.Location, which Which) (Minute, error) {
	guess := time.Date(wall.Year(), wall.Month(), wall.Day(), wall.Hour(), wall.Minute(), 0, 0, zone)
	if farFromChange(guess) && guess.Day() == wall.Day() && guess.Hour() == wall.Hour() && guess.Minute() == wall.Minute() {
		return MinuteOf(guess), nil
	}
	const layout = "2006-01-02 15:04"
	shown := wall.Format(layout)
	var moments []Minute
	for shift := -largestChange; shift <= largestChange; shift += 30 * time.Minute {
		if at := guess.Add(shift); at.Format(layout) == shown {
			moments = append(moments, MinuteOf(at))
		}
	}
	switch {
	case len(moments) == 0:
		return 0, &WallError{Wall: shown}
	case len(moments) == 1:
		return moments[0], nil
	case which == NotAsked:
		return 0, &WallError{Wall: shown, Twice: true}
	case which == First:
		return moments[0], nil
	}
	return moments[len(moments)-1], nil
}

// farFromChange reports that t's zone keeps its offset on both sides of t for
// longer than clocks are changed by: the wall clock shows t at no other moment near.
func farFromChange(t time.Time) bool {
	from, until := t.ZoneBounds()
	return (from.IsZero() || from.Before(t.Add(-largestChange))) && (until.IsZero() || until.After(t.Add(largestChange)))
}

// DayStart is the first minute of the wall clock's day in the zone: midnight,
// or, where the clocks skip midnight, the first moment after it.
func DayStart(day time.Time, zone *time.Location) Minute {
	start := time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, zone)
	if m, err := OnWall(start, zone, First); err == nil {
		return m
	}
	return MinuteOf(start)
}
