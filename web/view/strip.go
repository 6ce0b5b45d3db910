package view

import (
	"strconv"
)

// StripData is one line's course on the axis that all strips of a page share.
// All moments are minutes since the epoch, as line.Minute.
type StripData struct {
	From, To    int64      // the axis
	Nights      [][2]int64 // shaded stretches, the same for every strip
	Placed      int64      // or first seen, where PlacedKnown is false
	PlacedKnown bool
	Ended       int64 // 0: in situ
	Now         int64
	Looks       []int64
	Dressings   []int64 // dressing changes
	Overdue     [][2]int64
	Quiet       bool   // overdue stretches drawn without red: the line may long be out
	Title       string // says in words what the strip shows
}

// The axis is cut into a thousand parts: finer than a screen shows, and short
// to write.
const stripParts = 1000

// at is a moment's place on the axis, kept inside it.
func (s StripData) at(minute int64) int {
	if s.To <= s.From {
		return 0
	}
	minute = min(max(minute, s.From), s.To)
	return int((minute - s.From) * stripParts / (s.To - s.From))
}

func (s StripData) hatch() string {
	if s.Quiet {
		return "url(#hatch-quiet)"
	}
	return "url(#hatch)"
}

func (s StripData) shown(minute int64) bool { return minute >= s.From && minute <= s.To }

// older reports a line placed before the axis starts.
func (s StripData) older() bool { return s.Placed < s.From && s.end() > s.From }

func (s StripData) end() int64 {
	if s.Ended != 0 {
		return s.Ended
	}
	return s.Now
}

// nights are filled boxes in one path.
func (s StripData) nights() string {
	var d []byte
	for _, night := range s.Nights {
		from, to := s.at(night[0]), s.at(night[1])
		if to <= from {
			continue
		}
		d = append(d, 'M')
		d = strconv.AppendInt(d, int64(from), 10)
		d = append(d, " 0h"...)
		d = strconv.AppendInt(d, int64(to-from), 10)
		d = append(d, "v34h-"...)
		d = strconv.AppendInt(d, int64(to-from), 10)
		d = append(d, 'z')
	}
	return string(d)
}

// course is the line from placement to its end or now, with a stop where it came out.
func (s StripData) course() string {
	from, to := s.at(s.Placed), s.at(s.end())
	if s.end() <= s.From || s.Placed >= s.To {
		return ""
	}
	d := "M" + strconv.Itoa(from) + " 17H" + strconv.Itoa(to)
	if s.Ended != 0 && s.shown(s.Ended) {
		d += "M" + strconv.Itoa(to) + " 4v26"
	}
	return d
}

// marks draws the same stroke at each moment that the axis shows.
func (s StripData) marks(moments []int64, before, after string) string {
	var d []byte
	for _, m := range moments {
		if !s.shown(m) {
			continue
		}
		d = append(d, 'M')
		d = strconv.AppendInt(d, int64(s.at(m)), 10)
		d = append(d, before...)
		d = append(d, after...)
	}
	return string(d)
}

// ticks are the looks.
func (s StripData) ticks() string { return s.marks(s.Looks, " 9", "v16") }

// squares are strokes of no length: their ends make the shape, at any width of
// the strip.
func (s StripData) squares() string { return s.marks(s.Dressings, " 17", "h0") }

// start is the dot of the placement.
func (s StripData) start() string { return s.marks([]int64{s.Placed}, " 17", "h0") }

// percent writes a place on the axis for attributes that take a percentage.
func percent(parts int) string {
	return strconv.FormatFloat(float64(parts)*100/stripParts, 'f', -1, 64) + "%"
}

// overdueBox is a hatched stretch; a short one is widened so that it is seen.
type overdueBox struct{ x, width string }

func (s StripData) overdue() []overdueBox {
	const narrowest = 6
	var boxes []overdueBox
	for _, stretch := range s.Overdue {
		from, to := s.at(stretch[0]), s.at(stretch[1])
		if stretch[1] < s.From || stretch[0] > s.To || to < from {
			continue
		}
		if to-from < narrowest {
			from = max(0, to-narrowest)
		}
		boxes = append(boxes, overdueBox{percent(from), percent(max(to-from, narrowest))})
	}
	return boxes
}

// StripAxis labels the axis once, above all strips.
type StripAxis struct {
	From, To int64
	Marks    []AxisMark
	Now      int64
	NowLabel string
}

// AxisMark is one label, such as a day at its midnight.
type AxisMark struct {
	At    int64
	Label string
}

func (a StripAxis) at(minute int64) string {
	return percent(StripData{From: a.From, To: a.To}.at(minute))
}

// clear are the marks that do not run into the label of now or over the end.
func (a StripAxis) clear() []AxisMark {
	strip := StripData{From: a.From, To: a.To}
	var marks []AxisMark
	for _, m := range a.Marks {
		if strip.shown(m.At) && strip.at(m.At) < strip.at(a.Now)-200 {
			marks = append(marks, m)
		}
	}
	return marks
}
