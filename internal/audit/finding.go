package audit

import (
	"cmp"
	"slices"
	"time"

	"dwellbook/internal/line"
)

// Finding is a duty due and not ended, or a concern that holds, at the moment assessed.
type Finding struct {
	Rule      line.Rule
	Severity  Severity
	Subject   line.Key
	Line      line.Key      // line or occasion; 0: of the patient
	Ward      line.Key      // that has the patient at the moment, else the last that had
	Since     line.Minute   // the first due moment of the joined stretch, or the concern's start
	Overdue   time.Duration // of a duty: uncovered minutes before the moment assessed
	IsDuty    bool
	Justified bool // answered by a justification at the moment
	StillIn   bool // of a line under "Is it still in?"
	Why, Do   line.Message
	Source    string
}

// SortFindings puts the most urgent and oldest first.
func SortFindings(findings []Finding) {
	slices.SortStableFunc(findings, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(a.Severity, b.Severity), cmp.Compare(a.Since, b.Since), cmp.Compare(a.Subject, b.Subject),
			cmp.Compare(a.Line, b.Line), cmp.Compare(a.Rule, b.Rule))
	})
}
