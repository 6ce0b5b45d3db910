package outcomes

import (
	"math"

	"dwellbook/internal/stats"
)

// Funnel is groups' rates set against what all of them have together.
type Funnel struct {
	Target float64 // all events over all exposure, per thousand cannula-days
	Points []stats.FunnelPoint
	Rates  []stats.Rate
	Spread stats.Overdispersion
	// Widened is what the limits are multiplied by about the target, because the
	// groups differ by more than chance even so; 1 where they do not.
	Widened float64
	Curves  []FunnelLimit
}

// FunnelLimit is both pairs of limits at one exposure.
type FunnelLimit struct {
	Exposure        float64
	Warning, Action stats.Interval
}

// surelySpread is how unlikely chance alone must be for limits to be widened.
const surelySpread = 0.05

// curvePoints is how many exposures a limit curve is drawn through.
const curvePoints = 60

// NewFunnel sets rates against each other; nil where there are fewer than three
// with exposure, or no events at all: then there is nothing to compare.
func NewFunnel(rates []stats.Rate) *Funnel {
	f := &Funnel{Target: stats.PooledRate(rates), Rates: rates, Widened: 1}
	known, most, least := 0, 0.0, math.Inf(1)
	for _, r := range rates {
		if r.Exposure > 0 {
			known++
			most, least = max(most, r.Exposure), min(least, r.Exposure)
		}
	}
	if known < 3 || !(f.Target > 0) {
		return nil
	}
	f.Spread = stats.CheckRates(rates, f.Target)
	if f.Spread.P < surelySpread {
		f.Widened = f.Spread.Inflation()
	}
	f.Points = stats.FunnelRates(rates, f.Target)
	for i := range f.Points {
		f.Points[i].Warning, f.Points[i].Action = f.widen(f.Points[i].Warning), f.widen(f.Points[i].Action)
	}
	for k := range curvePoints {
		at := least / 2 * math.Pow(1.1*most/(least/2), float64(k)/(curvePoints-1))
		p := stats.FunnelRates([]stats.Rate{{Exposure: at}}, f.Target)[0]
		f.Curves = append(f.Curves, FunnelLimit{at, f.widen(p.Warning), f.widen(p.Action)})
	}
	return f
}

func (f *Funnel) widen(i stats.Interval) stats.Interval {
	return stats.Interval{Lower: f.Target + f.Widened*(i.Lower-f.Target), Upper: f.Target + f.Widened*(i.Upper-f.Target)}
}
