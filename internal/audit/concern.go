package audit

import "dwellbook/internal/line"

// Concern is a condition that holds for a stretch of time.
type Concern struct {
	Rule         line.Rule
	Severity     Severity // by the policy in force in the stretch
	Line         line.Key // the line or occasion; 0: of the patient
	line.Stretch          // Until may lie ahead, or be Far
	Justified    bool     // covered by a justification at the moment assessed
	Why, Do      line.Message
	source       string
}
