package audit

import (
	"dwellbook/internal/line"
)

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
	GaugeBelowNeed          line.Rule = "gauge-below-need"
	GaugeAboveNeed          line.Rule = "gauge-above-need"
	SeveralLines            line.Rule = "several-lines"
)

// ruleNo is a rule's place in the registry.
type ruleNo uint8

const (
	reviewOverdue ruleNo = iota
	dressingOverdue
	needDaily
	dwellCheck
	removeNotNeeded
	actOnPhlebitis
	actOnComplication
	leftAfterDischarge
	resiteAfterEmergency
	watchAfterRemoval
	limbRestricted
	recordIncomplete
	recordConflict
	acrossJoint
	smallGaugeInElbowCrease
	largeGaugeInSmallVein
	lowerLimbInAdult
	belowFailedSite
	tooManyAttempts
	idleLine
	gaugeBelowNeed
	gaugeAboveNeed
	severalLines
	ruleCount
)

var ruleIDs = [ruleCount]line.Rule{
	ReviewOverdue, DressingOverdue, NeedDaily, DwellCheck, RemoveNotNeeded, ActOnPhlebitis, ActOnComplication,
	LeftAfterDischarge, ResiteAfterEmergency, WatchAfterRemoval, LimbRestricted, RecordIncomplete, RecordConflict,
	AcrossJoint, SmallGaugeInElbowCrease, LargeGaugeInSmallVein, LowerLimbInAdult, BelowFailedSite, TooManyAttempts,
	IdleLine, GaugeBelowNeed, GaugeAboveNeed, SeveralLines,
}

// ruleTags are the rules' numbers in justifications.
var ruleTags = func() (tags [ruleCount]uint32) {
	for no, id := range ruleIDs {
		tags[no] = id.Tag()
	}
	return tags
}()

// rule is a rule's keys in a policy file, besides those that every rule has,
// and its code: either that of its duties or that of its concerns.
type rule struct {
	settings []setting

	// duties adds the duties of one line.
	duties func(*scene, *line.Line)
	// explain says why a duty that is not ended stands, and what the policy says.
	explain func(*scene, *line.Line, *Duty) (why, do line.Message)

	// concerns adds the patient's concerns by one policy.
	concerns func(*scene, *Policy)
}

// registry holds the rules in the order in which a policy lists them.
var registry = [ruleCount]rule{
	reviewOverdue:           reviewOverdueRule,
	dressingOverdue:         dressingOverdueRule,
	needDaily:               needDailyRule,
	dwellCheck:              dwellCheckRule,
	removeNotNeeded:         removeNotNeededRule,
	actOnPhlebitis:          actOnPhlebitisRule,
	actOnComplication:       actOnComplicationRule,
	leftAfterDischarge:      leftAfterDischargeRule,
	resiteAfterEmergency:    resiteAfterEmergencyRule,
	watchAfterRemoval:       watchAfterRemovalRule,
	limbRestricted:          limbRestrictedRule,
	recordIncomplete:        recordIncompleteRule,
	recordConflict:          recordConflictRule,
	acrossJoint:             acrossJointRule,
	smallGaugeInElbowCrease: smallGaugeInElbowCreaseRule,
	largeGaugeInSmallVein:   largeGaugeInSmallVeinRule,
	lowerLimbInAdult:        lowerLimbInAdultRule,
	belowFailedSite:         belowFailedSiteRule,
	tooManyAttempts:         tooManyAttemptsRule,
	idleLine:                idleLineRule,
	gaugeBelowNeed:          gaugeBelowNeedRule,
	gaugeAboveNeed:          gaugeAboveNeedRule,
	severalLines:            severalLinesRule,
}

// RuleInfo is what a rule is.
type RuleInfo struct {
	Rule     line.Rule
	IsDuty   bool     // else a concern
	Severity Severity // by default
}

func (no ruleNo) info() RuleInfo {
	return RuleInfo{Rule: ruleIDs[no], IsDuty: registry[no].duties != nil}
}

// Rules lists every rule, in the order in which a policy lists them.
func Rules() []RuleInfo {
	list := make([]RuleInfo, ruleCount)
	for no := range ruleCount {
		list[no] = no.info()
		list[no].Severity = DefaultPolicy().rules[no].severity
	}
	return list
}
