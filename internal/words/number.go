package words

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"

	"dwellbook/internal/line"
)

// Number writes a share, hours, a p-value or a number: no more figures than
// such a number can bear, and a dash for what is not known or has no end.
func Number(ctx context.Context, v any) string {
	l := To(ctx).Language
	switch v := v.(type) {
	case line.Share:
		return l.written(100*float64(v), percent)
	case line.Hours:
		return l.written(float64(v), hours)
	case line.PValue:
		return l.written(float64(v), pValue)
	case line.Number:
		return l.written(float64(v), figures)
	}
	return fmt.Sprint(v)
}

// Decimal writes a number with so many decimals.
func Decimal(ctx context.Context, x float64, decimals int) string {
	return To(ctx).Language.marked(strconv.FormatFloat(x, 'f', decimals, 64))
}

// DecimalMark is what the reader's language writes between whole and parts.
func DecimalMark(ctx context.Context) string { return To(ctx).Language.decimal }

func (l *Language) written(x float64, as func(float64) string) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "–"
	}
	return l.marked(as(x))
}

// marked puts the language's decimal mark in the place of the point.
func (l *Language) marked(number string) string {
	if l.decimal == "." {
		return number
	}
	return strings.Replace(number, ".", l.decimal, 1)
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
