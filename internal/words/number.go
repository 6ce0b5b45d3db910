package words

import (
	"fmt"
	"math"
	"strconv"

	"dwellbook/internal/line"
)

// Number writes a share, hours, a p-value or a number: no more figures than
// such a number can bear, and a dash for what is not known or has no end.
func Number(v any) string {
	switch v := v.(type) {
	case line.Share:
		return written(100*float64(v), percent)
	case line.Hours:
		return written(float64(v), hours)
	case line.PValue:
		return written(float64(v), pValue)
	case line.Number:
		return written(float64(v), figures)
	}
	return fmt.Sprint(v)
}

func written(x float64, as func(float64) string) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "–"
	}
	return as(x)
}

func hours(h float64) string {
	if h < 10 {
		return strconv.FormatFloat(h, 'f', 1, 64) + " h"
	}
	return fmt.Sprintf("%.0f h", h)
}

func pValue(p float64) string {
	switch {
	case p < 0.001:
		return "p < 0.001"
	case p < 0.1:
		return fmt.Sprintf("p = %.3f", p)
	}
	return fmt.Sprintf("p = %.2f", p)
}

// percent writes one decimal where whole percents would hide the number.
func percent(p float64) string {
	if 0 < p && p < 10 || 90 < p && p < 100 {
		return fmt.Sprintf("%.1f %%", p)
	}
	return fmt.Sprintf("%.0f %%", p)
}

func figures(x float64) string {
	switch size := math.Abs(x); {
	case size == 0, size >= 100:
		return fmt.Sprintf("%.0f", x)
	case size >= 10:
		return fmt.Sprintf("%.1f", x)
	}
	return fmt.Sprintf("%.2f", x)
}
