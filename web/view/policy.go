package view

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"dwellbook/internal/audit"
	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// Policy is the policy in force.
type Policy struct {
	Shell   Shell
	House   *desk.House
	Version desk.PolicyVersion
	Later   []desk.PolicyVersion // put in force from a moment to come
	MayEdit bool
	InHand  bool // the person has an edit in hand
	Notice  string
}

// PolicyHistory is the policies of all time, and two of them compared.
type PolicyHistory struct {
	Shell         Shell
	House         *desk.House
	Now           line.Minute
	Versions      []desk.PolicyVersion
	Before, After *desk.PolicyVersion // nil: nothing is compared
}

// PolicyVersion is one policy, read.
type PolicyVersion struct {
	Shell   Shell
	House   *desk.House
	Version desk.PolicyVersion
	Now     line.Minute
	MayEdit bool
}

// stamp is a moment in full: a policy's moments may lie far back or ahead.
func stamp(ctx context.Context, h *desk.House, at line.Minute) string {
	return words.To(ctx).In(h.Zone).Stamp(at)
}

// since says from when a policy holds, or held, and by whom.
func since(ctx context.Context, h *desk.House, v desk.PolicyVersion) string {
	if v.Seq == 0 {
		return words.Say(ctx, "policypage.carried")
	}
	return words.Say(ctx, "policypage.since", "at", stamp(ctx, h, v.From), "by", h.NameOf(v.Author))
}

// state says whether a version is in force, was, or will be.
func state(ctx context.Context, h *desk.House, v desk.PolicyVersion, now line.Minute) string {
	switch until := h.Until(v); {
	case until <= v.From:
		return words.Say(ctx, "policyhistory.never")
	case v.From > now:
		return words.Say(ctx, "policyhistory.to-come")
	case until > now:
		return words.Say(ctx, "policyhistory.in-force")
	default:
		return words.Say(ctx, "policyhistory.until", "at", stamp(ctx, h, until))
	}
}

func (p PolicyHistory) table(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "policyhistory.list")}
	for _, key := range []string{"policy", "from", "recorded", "by", "state"} {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "policyhistory."+key)})
	}
	for _, v := range p.Versions {
		from, recorded, by := words.Say(ctx, "policyhistory.start"), "–", words.Say(ctx, "policyhistory.program")
		if v.Seq != 0 {
			from, by = stamp(ctx, p.House, v.From), p.House.NameOf(v.Author)
			recorded = stamp(ctx, p.House, line.MinuteOf(v.Recorded))
		}
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{
			{Text: v.Policy.Name(), Href: "/policy/history/" + number(v)}, {Text: from}, {Text: recorded}, {Text: by},
			{Text: state(ctx, p.House, v, p.Now)},
		}})
	}
	return t
}

func number(v desk.PolicyVersion) string { return strconv.FormatInt(v.Seq, 10) }

func (p PolicyHistory) options(ctx context.Context) []Option {
	all := make([]Option, len(p.Versions))
	for i, v := range p.Versions {
		all[i] = Option{Value: number(v), Label: versionName(ctx, p.House, v)}
	}
	return all
}

func versionName(ctx context.Context, h *desk.House, v desk.PolicyVersion) string {
	if v.Seq == 0 {
		return words.Say(ctx, "policyhistory.carried-name")
	}
	return words.Say(ctx, "policyhistory.name", "name", v.Policy.Name(), "at", stamp(ctx, h, v.From))
}

// chosen is which two are compared: at first the last two.
func (p PolicyHistory) chosen() (before, after string) {
	if p.Before != nil {
		return number(*p.Before), number(*p.After)
	}
	return number(p.Versions[min(1, len(p.Versions)-1)]), number(p.Versions[0])
}

// wardTable lists the wards whose own values stand before the policy's.
func (p Policy) wardTable(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "policypage.wards")}
	for _, key := range []string{"ward", "shifts", "looks"} {
		t.Columns = append(t.Columns, Column{Label: words.Say(ctx, "policypage.ward-"+key)})
	}
	for _, w := range p.House.Wards {
		if w.Closed || len(w.Shifts) == 0 && w.Every == 0 {
			continue
		}
		shifts, looks := words.Say(ctx, "policypage.as-policy"), words.Say(ctx, "policypage.as-policy")
		if len(w.Shifts) > 0 {
			shifts = times(w.Shifts)
			looks = words.Say(ctx, "policypage.each-shift")
		}
		if w.Every > 0 {
			looks = words.Say(ctx, "policypage.every", "span", time.Duration(w.Every)*time.Minute)
		}
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{{Text: w.Name}, {Text: shifts}, {Text: looks}}})
	}
	return t
}

func times(shifts []line.ShiftTime) string {
	list := make([]string, len(shifts))
	for i, s := range shifts {
		list[i] = fmt.Sprintf("%02d:%02d", s/60, s%60)
	}
	return strings.Join(list, ", ")
}

// fieldLabel names a key of a policy, without its rule.
func fieldLabel(ctx context.Context, rule line.Rule, key string) string {
	switch short := strings.TrimPrefix(key, string(rule)+"."); short {
	case "on", "severity", "why", "source":
		return words.Say(ctx, "policyfield."+short)
	}
	return words.Say(ctx, "policyfield."+key)
}

// fieldValue is a key's value as it is read.
func fieldValue(ctx context.Context, f audit.Field) string {
	switch {
	case f.Value == "":
		return words.Say(ctx, "policypage.not-set")
	case f.Form == audit.FlagForm:
		return words.Say(ctx, map[string]string{"true": "policypage.on", "false": "policypage.off"}[f.Value])
	case f.Form == audit.ChoiceForm:
		return choiceWord(ctx, f.Value)
	}
	return f.Value
}

// choiceWord is a severity's word, or a gauge.
func choiceWord(ctx context.Context, value string) string {
	if words.Known("severity." + value) {
		return words.Say(ctx, "severity."+value)
	}
	return value + "G"
}

// figures are the fields of a rule but for those that every rule has.
func figures(p *audit.Policy, rule line.Rule) []audit.Field {
	if fields := p.Fields(rule); rule != "" {
		return fields[4:]
	}
	return p.Fields("")
}

func (p PolicyHistory) differences() []desk.DiffLine {
	return desk.Differences(string(p.Before.Policy.Text()), string(p.After.Policy.Text()))
}

// lineNumber is empty for a line that does not stand there.
func lineNumber(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func settingsText(settings []audit.Setting) string {
	all := make([]string, len(settings))
	for i, s := range settings {
		all[i] = s.Key + " = " + s.Value
	}
	return strings.Join(all, ", ")
}
