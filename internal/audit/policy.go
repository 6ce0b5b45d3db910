package audit

import (
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"sync"
	"time"

	"dwellbook/internal/flow"
	"dwellbook/internal/line"
)

//go:embed default.toml
var defaultText []byte

// Policy is one policy file, read and checked. It is never changed.
type Policy struct {
	name string
	text []byte
	values
	cannulas []flow.Cannula
	judged   sync.Map // what Judge has said, by line.Need
}

// values are the figures of a policy. What a file leaves out is as in the default.
type values struct {
	shifts       []line.ShiftTime // when shifts start, ascending
	stillInAfter time.Duration    // without an entry
	learning     Learning
	rules        [ruleCount]ruleValues
	review       reviewValues
	dressing     dressingValues
	need         needValues
	dwell        dwellValues
	notNeeded    within
	phlebitis    phlebitisValues
	complication complicationValues
	leftIn       within
	resite       within
	watch        watchValues
	limb         limbValues
	small, large gaugeValues
	belowFailed  within
	attempts     attemptValues
	idle         within
	several      severalValues
	above        aboveValues
	rated        [27]float64 // mL/min on the pack, by gauge; 0: not said
}

// ruleValues are what every rule has.
type ruleValues struct {
	on       bool
	severity Severity
	why      string // a plain sentence
	source   string // a guideline with its year, "common practice" or "house rule"
}

// within is the one figure of many rules.
type within struct{ within time.Duration }

// DefaultPolicy is the policy that the program carries.
func DefaultPolicy() *Policy { return defaultPolicy() }

var defaultPolicy = sync.OnceValue(func() *Policy {
	p, err := parsePolicy("default.toml", defaultText, &values{})
	if err != nil {
		panic(err) // embedded: a fault of the build
	}
	return p
})

// Name names the policy by its text: "policy" and the first 12 hexadecimal
// digits of its SHA-256.
func (p *Policy) Name() string { return p.name }

// Text is the file, byte for byte.
func (p *Policy) Text() []byte { return p.text }

func nameOf(text []byte) string {
	sum := sha256.Sum256(text)
	return "policy " + hex.EncodeToString(sum[:])[:12]
}

// PolicyRule is what a policy says of one rule.
type PolicyRule struct {
	RuleInfo // its Severity is the policy's
	On       bool
	Why      string
	Source   string
	Settings []Setting
}

// Setting is one figure of a policy, as written in the file.
type Setting struct{ Key, Value string }

// Rules lists what the policy says, in the order of Rules.
func (p *Policy) Rules() []PolicyRule {
	list := make([]PolicyRule, len(registry))
	for i, r := range registry {
		v := p.rules[i]
		list[i] = PolicyRule{RuleInfo: ruleNo(i).info(), On: v.on, Why: v.why, Source: v.source, Settings: p.shown(r.settings)}
		list[i].Severity = v.severity
	}
	return list
}

// General lists the figures that are of no one rule.
func (p *Policy) General() []Setting { return p.shown(generalSettings) }

func (p *Policy) shown(settings []setting) []Setting {
	list := make([]Setting, 0, len(settings))
	for _, s := range settings {
		if shown := s.show(&p.values); shown != "" {
			list = append(list, Setting{s.key, shown})
		}
	}
	return list
}
