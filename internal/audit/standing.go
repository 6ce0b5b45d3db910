package audit

import (
	"cmp"
	"slices"

	"dwellbook/internal/line"
)

// Standing is a stretch, joined, in which a rule's finding stood on a line or
// occasion (0: on the patient), answered by nobody.
type Standing struct {
	Rule     line.Rule
	Severity Severity // of the finding as it last stood
	IsDuty   bool
	Line     line.Key
	Ward     line.Key // that had the patient, or had last, when it began to stand
	line.Stretch
	no ruleNo
}

// Standing gives what stood in a period, up to the moment assessed, by rule,
// line and time. A finding that no time passed with is not among them.
func (a *Assessment) Standing(period line.Stretch) []Standing {
	period = clip(period, line.Stretch{From: -line.Far, Until: a.At})
	var list []Standing
	note := func(s Standing, stretch line.Stretch, cover func(*line.Mark) line.Stretch) {
		if stretch = clip(stretch, period); stretch.From >= stretch.Until {
			return
		}
		uncoveredParts(&a.History, stretch, answer{ruleTags[s.no], s.Line, cover}, func(part line.Stretch) {
			s.Stretch = part
			list = append(list, s)
		})
	}
	for i := range a.Duties {
		d := &a.Duties[i]
		note(Standing{Severity: d.Severity, IsDuty: true, Line: d.Line, no: d.no}, d.overdue(), dutyCover)
	}
	for i := range a.Concerns {
		c := &a.Concerns[i]
		note(Standing{Severity: c.Severity, Line: c.Line, no: c.no}, c.Stretch, concernCover)
	}
	slices.SortFunc(list, func(x, y Standing) int {
		return cmp.Or(cmp.Compare(x.no, y.no), cmp.Compare(x.Line, y.Line), cmp.Compare(x.From, y.From), cmp.Compare(x.Until, y.Until))
	})
	return a.together(list)
}

// together joins what touches, and names it.
func (a *Assessment) together(list []Standing) []Standing {
	whole := list[:0]
	for _, s := range list {
		if n := len(whole); n > 0 && whole[n-1].no == s.no && whole[n-1].Line == s.Line && whole[n-1].Until >= s.From {
			whole[n-1].Until, whole[n-1].Severity = max(whole[n-1].Until, s.Until), s.Severity
			continue
		}
		s.Rule, s.Ward = ruleIDs[s.no], a.History.LastWardAt(s.From)
		whole = append(whole, s)
	}
	return whole
}
