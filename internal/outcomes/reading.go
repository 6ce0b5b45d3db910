package outcomes

import (
	"math"
	"slices"

	"dwellbook/internal/line"
	"dwellbook/internal/stats"
)

// The readings are sentences made from the numbers, hedged by rule (house rules,
// no source): what is too small, too wide or one of many comparisons says so.
const (
	fewFailures = 10  // of a group: its times to failure are not told
	fewLines    = 20  // of a group: its survival is not told
	wide        = 2.0 // an interval whose upper end is so many times the lower
	many        = 3   // groups, above which the most extreme differ by chance alone
	significant = 0.05
)

// Tells reports whether the group has enough lines, and failures among them, to
// tell how long its lines last.
func (g *Group) Tells() bool { return g.Lines >= fewLines && g.Failed >= fewFailures }

// Reading says in sentences how long lines last and whether groups differ.
func (c *Courses) Reading() []line.Message {
	told := slices.DeleteFunc(slices.Clone(c.Groups), func(g Group) bool { return !g.Tells() })
	switch {
	case len(c.Groups) == 0:
		return []line.Message{line.Say("outcomes.read.none")}
	case len(told) == 0:
		return []line.Message{line.Say("outcomes.read.few", "n", fewFailures, "lines", fewLines)}
	}
	says := c.lasting(told)
	if len(c.Groups) > 1 {
		says = append(says, c.difference(told)...)
	}
	if left := len(c.Groups) - len(told); left > 0 {
		says = append(says, line.Say("outcomes.read.left", "n", left, "lines", fewLines, "failures", fewFailures))
	}
	if lines := c.lines(); c.LeftOut.StartNotKnown*20 > lines {
		says = append(says, line.Say("outcomes.read.start", "n", c.LeftOut.StartNotKnown, "lines", lines))
	}
	return says
}

func (c *Courses) lines() (n int) {
	for i := range c.Groups {
		n += c.Groups[i].Lines
	}
	return n
}

// lasting tells how long the lines of the shortest and the longest group last.
func (c *Courses) lasting(told []Group) []line.Message {
	level, ok := commonLevel(told)
	if !ok {
		return []line.Message{line.Say("outcomes.read.early")}
	}
	slices.SortStableFunc(told, func(a, b Group) int { return level.compare(&a, &b) })
	first, last := &told[0], &told[len(told)-1]
	if len(told) == 1 {
		says := []line.Message{level.tell("outcomes.read.one", first)}
		if _, i := level.value(first); closed(i) && level.wide(first) {
			says = append(says, line.Say("outcomes.read.wide"))
		}
		return says
	}
	says := []line.Message{level.tellBoth(first, last)}
	if level.wide(first) || level.wide(last) {
		says = append(says, line.Say("outcomes.read.wide-both"))
	}
	return says
}

// difference tells whether the groups differ, and what may be behind it.
func (c *Courses) difference(told []Group) []line.Message {
	if c.LogRank == nil || len(told) < 2 {
		return nil
	}
	key := "outcomes.read.alike"
	if c.LogRank.P < significant {
		key = "outcomes.read.differ"
	}
	says := []line.Message{line.Say(key, "p", line.PValue(c.LogRank.P))}
	if len(told) > many {
		says = append(says, line.Say("outcomes.read.many", "n", len(told)))
	}
	return append(says, line.Say("outcomes.read.mix."+c.By.String()))
}

// level is what groups are compared by: half of the lines failed, or, where a
// group did not come to that, how many are left at so many minutes.
type level struct {
	median bool
	at     float64
}

// commonLevel is the median if every group comes down to it, else the latest of
// some usual hours to which enough lines of every group were followed.
func commonLevel(told []Group) (l level, ok bool) {
	l.median = !slices.ContainsFunc(told, func(g Group) bool {
		m, _ := g.Survival.Median(stats.LogLog, Confidence)
		return math.IsInf(m, 0) || math.IsNaN(m)
	})
	if l.median {
		return l, true
	}
	for _, l.at = range []float64{96, 72, 48, 24} {
		if !slices.ContainsFunc(told, func(g Group) bool { return g.Survival.At(l.at).AtRisk < fewFailures }) {
			return l, true
		}
	}
	return l, false
}

// value is the group's at the level: minutes, or a share.
func (l level) value(g *Group) (float64, stats.Interval) {
	if l.median {
		return g.Survival.Median(stats.LogLog, Confidence)
	}
	p := g.Survival.At(l.at)
	return p.Estimate, p.Interval(stats.LogLog, Confidence)
}

func (l level) compare(a, b *Group) int {
	x, _ := l.value(a)
	y, _ := l.value(b)
	switch {
	case x < y:
		return -1
	case x > y:
		return 1
	}
	return 0
}

// wide reports an interval too wide to build on: of a share, its failures'.
func (l level) wide(g *Group) bool {
	_, i := l.value(g)
	if !l.median {
		i = stats.Interval{Lower: 1 - i.Upper, Upper: 1 - i.Lower}
	}
	return !(i.Upper <= wide*i.Lower)
}

func (l level) tell(key string, g *Group) line.Message {
	v, i := l.value(g)
	return line.Say(key+l.suffix(), "group", g.Label, "value", l.shown(v), "interval", between(i, l.shown), "n", g.Lines,
		"hours", line.Hours(l.at))
}

func (l level) tellBoth(first, last *Group) line.Message {
	x, _ := l.value(first)
	y, _ := l.value(last)
	return line.Say("outcomes.read.both"+l.suffix(), "first", first.Label, "last", last.Label,
		"x", l.shown(x), "y", l.shown(y), "hours", line.Hours(l.at))
}

func (l level) suffix() string {
	if l.median {
		return ""
	}
	return "-share"
}

// closed reports whether both ends of an interval are known.
func closed(i stats.Interval) bool {
	return !math.IsNaN(i.Lower) && !math.IsNaN(i.Upper) && !math.IsInf(i.Upper, 1)
}

// between tells an interval, or that an end of it, or all of it, is not known.
func between(i stats.Interval, shown func(float64) any) line.Message {
	switch {
	case closed(i):
		return line.Say("outcomes.interval", "lower", shown(i.Lower), "upper", shown(i.Upper))
	case math.IsInf(i.Upper, 1):
		return line.Say("outcomes.interval-open", "lower", shown(i.Lower))
	}
	return line.Say("outcomes.no-interval")
}

func (l level) shown(v float64) any {
	if l.median {
		return line.Hours(v)
	}
	return line.Share(v)
}
