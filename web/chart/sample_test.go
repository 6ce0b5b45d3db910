package chart_test

import (
	"math"

	"dwellbook/web/chart"
)

// The samples are invented; they have the shape that such figures have.

// survival is a curve that falls at a constant hazard per hour with a step
// every few hours, and an interval that widens as fewer are at risk.
func survival(name, note string, hazard float64, n int, until, every float64) chart.Curve {
	c := chart.Curve{Name: name, Note: note, Median: math.Ln2 / hazard}
	atRisk := func(h float64) float64 { return float64(n) * math.Exp(-2.2*hazard*h) }
	c.AtRisk = func(h float64) int { return int(atRisk(h)) }
	for h := 0.0; h <= until; h += every {
		s := math.Exp(-hazard * h)
		half := 1.96 * math.Sqrt(s*(1-s)/max(1, atRisk(h)*1.6))
		c.Steps = append(c.Steps, chart.Step{Hour: h, Share: s, Low: max(0, s-half), High: min(1, s+half)})
	}
	return c
}

func twoCurves() chart.Curves {
	return chart.Curves{
		About: chart.About{ID: "survival-two", Title: "Lines still in and working, by hours since placement",
			Desc: "After 72 hours 76 % of lines in the forearm and 58 % of those in the elbow crease were still in and working."},
		Hours: "Hours since placement", Share: "Still in and working", AtRisk: "Lines at risk",
		Groups: []chart.Curve{
			survival("Forearm", "412 lines", 0.0038, 412, 168, 3),
			survival("Elbow crease", "median 91 h", 0.0076, 236, 150, 4),
		},
	}
}

func nineCurves() chart.Curves {
	c := chart.Curves{
		About: chart.About{ID: "survival-nine", Title: "Lines still in and working, by site", Desc: "Nine sites; hazards differ little between hand and wrist."},
		Hours: "Hours since placement", Share: "Still in and working", AtRisk: "Lines at risk",
	}
	for i, site := range []string{"Back of hand", "Wrist", "Forearm", "Elbow crease", "Upper arm", "Ankle", "Back of foot", "Neck (external jugular)", "Scalp"} {
		hazard := []float64{0.0058, 0.0064, 0.0037, 0.0079, 0.0041, 0.0092, 0.0088, 0.0110, 0.0101}[i]
		g := survival(site, "", hazard, []int{388, 141, 702, 455, 96, 22, 31, 14, 19}[i], 168, 4)
		g.Median = 0
		c.Groups = append(c.Groups, g)
	}
	return c
}
