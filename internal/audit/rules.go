package audit

import "dwellbook/internal/line"

// The rules, by name.
const (
	ReviewOverdue           line.Rule = "review-overdue"
	DressingOverdue         line.Rule = "dressing-overdue"
	NeedDaily               line.Rule = "need-daily"
	DwellCheck              line.Rule = "dwell-check"
	RemoveNotNeeded         line.Rule = "remove-not-needed"
	ActOnPhlebitis          line.Rule = "act-on-phlebitis"
	ActOnComplication       line.Rule = "act-on-complication"
	LeftAfterDischarge      line.Rule = "left-after-discharge"
	ResiteAfterEmergency    line.Rule = "resite-after-emergency"
	WatchAfterRemoval       line.Rule = "watch-after-removal"
	LimbRestricted          line.Rule = "limb-restricted"
	RecordIncomplete        line.Rule = "record-incomplete"
	RecordConflict          line.Rule = "record-conflict"
	AcrossJoint             line.Rule = "across-joint"
	SmallGaugeInElbowCrease line.Rule = "small-gauge-in-elbow-crease"
	LargeGaugeInSmallVein   line.Rule = "large-gauge-in-small-vein"
	LowerLimbInAdult        line.Rule = "lower-limb-in-adult"
	BelowFailedSite         line.Rule = "below-failed-site"
	TooManyAttempts         line.Rule = "too-many-attempts"
	IdleLine                line.Rule = "idle-line"
	SeveralLines            line.Rule = "several-lines"
)

// RuleInfo is what a rule is, whatever the policy sets.
type RuleInfo struct {
	Rule     line.Rule
	IsDuty   bool     // else a concern
	Severity Severity // by default
}

// Rules lists every rule, in the order in which a policy lists them.
func Rules() []RuleInfo { return nil }
