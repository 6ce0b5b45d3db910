package chart_test

import (
	"math"
	"strconv"

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

// endings are cumulative shares of what ended the lines: each cause has its own
// hazard, constant over the hours.
func endings() chart.Stacked {
	causes := []struct {
		name   string
		hazard float64
	}{
		{"No longer needed", 0.0049}, {"Discharged", 0.0031}, {"Phlebitis", 0.0013}, {"Infiltration", 0.0022},
		{"Occlusion", 0.0017}, {"Dislodged", 0.0011}, {"Leak", 0.0006}, {"Other", 0.0004},
	}
	total := 0.0
	c := chart.Stacked{
		About: chart.About{ID: "endings", Title: "What ended the lines, by hours since placement",
			Desc: "After 72 hours 33 % were still in; 21 % had ended because they were no longer needed, 10 % with infiltration."},
		Hours: "Hours since placement", Share: "Share of lines",
	}
	for _, cause := range causes {
		total += cause.hazard
		c.Layers = append(c.Layers, chart.Layer{Name: cause.name})
	}
	c.Layers = append(c.Layers, chart.Layer{Name: "Still in", Blank: true})
	for h := 0.0; h <= 168; h += 4 {
		c.At = append(c.At, h)
		left := math.Exp(-total * h)
		for i, cause := range causes {
			c.Layers[i].Shares = append(c.Layers[i].Shares, cause.hazard/total*(1-left))
		}
		c.Layers[len(causes)].Shares = append(c.Layers[len(causes)].Shares, left)
	}
	return c
}

func failureBySite() chart.Intervals {
	return chart.Intervals{
		About: chart.About{ID: "failure-by-site", Title: "Lines that ended with a failure, by site",
			Desc: "Forearm 24 %, elbow crease 38 %; neck too few to say."},
		Axis:      chart.Axis{Label: "Share that ended with a failure, 95 % interval", Share: true},
		Reference: chart.Line{Name: "Hospital 31 %", At: 0.31},
		Rows: []chart.Interval{
			{Name: "Forearm", Point: 0.24, Low: 0.21, High: 0.27, N: "702 lines", Figure: "24 % (21 to 27)"},
			{Name: "Elbow crease", Point: 0.38, Low: 0.335, High: 0.425, N: "455 lines", Figure: "38 % (34 to 43)"},
			{Name: "Back of hand", Point: 0.33, Low: 0.285, High: 0.378, N: "388 lines", Figure: "33 % (29 to 38)"},
			{Name: "Wrist", Point: 0.36, Low: 0.286, High: 0.442, N: "141 lines", Figure: "36 % (29 to 44)"},
			{Name: "Neck (external jugular)", Point: 0.43, Low: 0.21, High: 0.67, N: "14 lines", Figure: "43 % (21 to 67)"},
			{Name: "Scalp", Point: math.NaN(), Low: math.NaN(), High: math.NaN(), N: "2 lines", Figure: "too few to say"},
		},
	}
}

func medians() chart.Intervals {
	return chart.Intervals{
		About: chart.About{ID: "medians", Title: "Median hours in and working, by gauge", Desc: "The upper end of 18G is open."},
		Axis:  chart.Axis{Label: "Hours, 95 % interval"},
		Rows: []chart.Interval{
			{Name: "18G", Point: 118, Low: 84, High: math.Inf(1), N: "88 lines", Figure: "118 h (84 to open)"},
			{Name: "20G", Point: 104, Low: 91, High: 122, N: "611 lines", Figure: "104 h (91 to 122)"},
			{Name: "22G", Point: 79, Low: 70, High: 88, N: "540 lines", Figure: "79 h (70 to 88)"},
		},
	}
}

func phlebitisByMonth() chart.Control {
	c := chart.Control{
		About: chart.About{ID: "phlebitis", Title: "Phlebitis for 1000 cannula-days, by month",
			Desc: "Centre 14.2. May 2025 lies above the upper limit; eight months from September lie below the centre."},
		Order: "Month", Values: chart.Axis{Label: "Phlebitis for 1000 cannula-days"},
		Centre: "centre 14.2", Upper: "upper limit", Lower: "lower limit",
	}
	months := []string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"}
	values := []float64{15.1, 12.8, 17.4, 16.0, 27.9, 15.6, 18.1, 14.9, 12.2, 11.0, 13.1, 10.4, 9.1, 12.7, 11.8, 10.2, math.NaN(), 16.2, 15.3, 13.9}
	days := []float64{940, 870, 1010, 980, 905, 1100, 1060, 850, 930, 990, 1040, 760, 1010, 890, 970, 1000, 0, 1080, 990, 930}
	for i, v := range values {
		half := 3 * math.Sqrt(14.2/days[i]*1000)
		p := chart.ControlPoint{Label: months[i%12], Value: v, Centre: 14.2, Lower: max(0, 14.2-half), Upper: 14.2 + half}
		if days[i] == 0 {
			p.Lower, p.Upper = math.NaN(), math.NaN()
		}
		if i%12 == 0 {
			p.Label += []string{" 2025", " 2026"}[i/12]
		}
		if v > p.Upper {
			p.Signal = "beyond the limit"
		}
		if i == 15 {
			p.Signal, p.Better = "8 on one side", true
		}
		c.Points = append(c.Points, p)
	}
	return c
}

func daysBetween() chart.Control {
	c := chart.Control{
		About: chart.About{ID: "between", Title: "Cannula-days between suspected infections", Desc: "The 17th gap lies above the upper limit: a longer time without."},
		Order: "Event", Values: chart.Axis{Label: "Cannula-days since the one before"},
		Centre: "centre 210", Upper: "upper limit 890",
	}
	for i, v := range []float64{120, 340, 35, 410, 88, 190, 15, 277, 60, 512, 143, 98, 230, 305, 44, 166, 1130, 420, 260, 75, 330} {
		p := chart.ControlPoint{Label: strconv.Itoa(i + 1), Value: v, Centre: 210, Lower: math.NaN(), Upper: 890}
		if v > 890 {
			p.Signal, p.Better = "longer than chance", true
		}
		c.Points = append(c.Points, p)
	}
	return c
}

func cusum() chart.Control {
	c := chart.Control{
		About: chart.About{ID: "cusum", Title: "First attempts of one operator, cumulative sum", Desc: "The sum crossed the lower limit at attempt 61 and began anew."},
		Order: "Attempt", Values: chart.Axis{Label: "Sum of weights"},
		Upper: "worse than agreed", Lower: "as good as agreed",
	}
	sum := 0.0
	for i := range 110 {
		failed := i%3 == 1 && i < 24 || i%9 == 3
		if failed {
			sum += 0.55
		} else {
			sum -= 0.21
		}
		p := chart.ControlPoint{Value: sum, Centre: math.NaN(), Upper: 3.2, Lower: -3.2, Label: ""}
		if (i+1)%10 == 0 {
			p.Label = strconv.Itoa(i + 1)
		}
		if sum < -3.2 {
			p.Signal, p.Better, p.Reset = "reached", true, true
			sum = 0
		}
		c.Points = append(c.Points, p)
	}
	return c
}

func wards() chart.Funnel {
	const centre = 0.142
	c := chart.Funnel{
		About: chart.About{ID: "wards", Title: "Lines with phlebitis, by ward", Desc: "Rowan lies above the 99.8 % limit; the other wards lie within."},
		Size:  chart.Axis{Label: "Lines that ended"}, Rate: chart.Axis{Label: "Share with phlebitis", Share: true},
		Centre: chart.Line{Name: "hospital 14 %", At: centre},
		Limits: []chart.FunnelLimit{{Name: "95 % limit"}, {Name: "99.8 % limit"}},
		Units: []chart.Unit{
			{Name: "Alder", Size: 212, Rate: 0.132}, {Name: "Birch", Size: 340, Rate: 0.121}, {Name: "Cedar", Size: 96, Rate: 0.188},
			{Name: "Elm", Size: 148, Rate: 0.101}, {Name: "Hazel", Size: 31, Rate: 0.226}, {Name: "Larch", Size: 268, Rate: 0.153},
			{Name: "Maple", Size: 55, Rate: 0.073}, {Name: "Oak", Size: 401, Rate: 0.147}, {Name: "Pine", Size: 120, Rate: 0.142},
			{Name: "Rowan", Size: 236, Rate: 0.228, Outside: true}, {Name: "Willow", Size: 225, Rate: 0.136}, {Name: "Yew", Size: 18, Rate: 0.056},
		},
	}
	for n := 4.0; n <= 500; n += 4 {
		sd := math.Sqrt(centre * (1 - centre) / n)
		for i, z := range []float64{1.96, 3.09} {
			c.Limits[i].Points = append(c.Limits[i].Points, chart.LimitPoint{Size: n, Low: max(0, centre-z*sd), High: centre + z*sd})
		}
	}
	return c
}

func pressure() chart.Shares {
	return chart.Shares{
		About: chart.About{ID: "pressure", Title: "Where the pressure goes", Desc: "Of 8.1 kPa between bag and vein 62 % is lost in the cannula."},
		Parts: []chart.Part{
			{Name: "Giving set", Value: 0.9, Figure: "0.9 kPa, 11 %"}, {Name: "Extension set", Value: 1.1, Figure: "1.1 kPa, 14 %"},
			{Name: "Needle-free connector", Value: 0.4, Figure: "0.4 kPa, 5 %"}, {Name: "Cannula, 22G", Value: 5.0, Figure: "5.0 kPa, 62 %"},
			{Name: "Vein", Value: 0.7, Figure: "0.7 kPa, 9 %"},
		},
	}
}

func samples() []chart.Chart {
	return []chart.Chart{twoCurves(), nineCurves(), endings(), failureBySite(), medians(), phlebitisByMonth(), daysBetween(), cusum(), wards(), pressure()}
}
