package audit_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"dwellbook/internal/audit"
	"dwellbook/internal/flow"
	"dwellbook/internal/line"
)

// The policy's own verdicts stand in for the arithmetic, which internal/flow is
// tested for; what is walked here, minute by minute, is when they hold.
func TestNeeds_AgreeWithAMinuteByMinuteWalk(t *testing.T) {
	t.Parallel()
	book := generatedBook()
	rapid.Check(t, func(t *rapid.T) {
		h := drawHistory(t, rapid.Bool().Draw(t, "may be found gone"), false)
		at := h.moment("asked")
		a := audit.Assess(book, h.marks, at)
		want := map[line.Key]line.Rule{}
		judged := book.PolicyAt(at).Judge(needAt(&a.History, at))
		verdict := func(l *line.Line) (v flow.Verdict, spare int) {
			for _, j := range judged {
				if j.Cannula.Gauge() == flow.Gauge(l.Placement.Gauge) {
					v, spare = j.Verdict, j.Spare
				}
			}
			return v, spare
		}
		served := false
		for _, l := range a.History.Lines {
			v, _ := verdict(l)
			served = served || l.InSitu(at) && v != flow.BelowNeed
		}
		for _, l := range a.History.Lines {
			switch v, spare := verdict(l); {
			case !l.InSitu(at):
			case v == flow.BelowNeed && !served:
				want[l.Key] = audit.GaugeBelowNeed
			case v == flow.Wider && spare >= 3:
				want[l.Key] = audit.GaugeAboveNeed
			}
		}
		got := map[line.Key]line.Rule{}
		for _, f := range a.Findings() {
			if f.Rule == audit.GaugeBelowNeed || f.Rule == audit.GaugeAboveNeed {
				got[f.Line] = f.Rule
			}
		}
		require.Equal(t, want, got)
	})
}

// needAt is the need last recorded, while the patient has not left since.
func needAt(h *line.Subject, at line.Minute) (n line.Need) {
	for _, m := range h.Needs {
		ward := func(t line.Minute) bool {
			for _, s := range h.Stays {
				if s.From <= t && t < s.Until {
					return true
				}
			}
			return false
		}
		if m.At > at {
			break
		}
		n = line.Need{MillilitresPerHour: int(m.NeedML)}
		for purpose := range m.Purposes.Codes() {
			n.For = purpose
		}
		gone := false
		if ward(m.At) || ward(m.At-1) {
			for t := m.At; t <= at; t++ {
				gone = gone || !ward(t)
			}
		}
		if gone || n.MillilitresPerHour == 0 {
			n = line.Need{}
		}
	}
	return n
}

func TestPolicy_TakesTheFlowsOfTheHospitalsPacks(t *testing.T) {
	t.Parallel()
	p, err := audit.ParsePolicy("hospital", []byte("[rated_flow]\n20 = 54\n26 = 13\n"))
	require.NoError(t, err)
	by := map[flow.Gauge]flow.Cannula{}
	for _, c := range p.Cannulas() {
		by[c.Gauge()] = c
	}
	for gauge, rated := range map[flow.Gauge]float64{20: 54, 26: 13} {
		a, err := flow.Through(by[gauge], flow.StandardTest())
		require.NoError(t, err)
		require.InDelta(t, rated, float64(a.Flow), 0.01, "%dG", gauge) // ISO 10555-1 annex E: the flow printed is that of the standard test
	}
	require.Contains(t, by, flow.Gauge(18))
	require.NotContains(t, by, flow.Gauge(17), "its bore is not known")
	require.Len(t, audit.DefaultPolicy().Cannulas(), len(flow.UsualCannulas()))

	for text, says := range map[string]string{
		"[rated_flow]\n20 = 6000\n": "2: rated_flow.20: 6000 is out of range",
		"[rated_flow]\n21 = 50\n":   "2: rated_flow.21: there is no such key",
		"[rated_flow]\n20 = true\n": "2: rated_flow.20: true is no number",
	} {
		_, err := audit.ParsePolicy("hospital", []byte(text))
		require.ErrorContains(t, err, says)
	}
}

// BenchmarkJudge asks again about a need that is known, as an audit does line after line.
func BenchmarkJudge(b *testing.B) {
	p := audit.DefaultPolicy()
	b.ReportAllocs()
	for b.Loop() {
		p.Judge(line.Need{MillilitresPerHour: 125, For: line.ForFluids})
	}
}
