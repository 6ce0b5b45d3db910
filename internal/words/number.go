package words

import (
	"fmt"
	"math"
	"strconv"

	"dwellbook/internal/line"
)

// Number writes a share, hours, a p-value or a number: no more figures than
// such a number can bear.
func Number(v any) string {
	switch v := v.(type) {
	case line.Share:
		return percent(100 * float64(v))
	case line.Hours:
		if v < 10 {
			return strconv.FormatFloat(float64(v), 'f', 1, 64) + " h"
		}
		return fmt.Sprintf("%.0f h", float64(v))
	case line.PValue:
		switch {
		case v < 0.001:
			return "p < 0.001"
		case v < 0.1:
			return fmt.Sprintf("p = %.3f", float64(v))
		}
		return fmt.Sprintf("p = %.2f", float64(v))
	case line.Number:
		return figures(float64(v))
	}
	return fmt.Sprint(v)
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
