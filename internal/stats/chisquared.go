package stats

import "gonum.org/v1/gonum/stat/distuv"

// ChiSquaredTest is a test whose statistic is chi-squared, with DF degrees of
// freedom, if what it tests holds.
type ChiSquaredTest struct {
	ChiSquared float64
	DF         int
	P          float64
}

func chiSquaredTest(chi float64, df int) ChiSquaredTest {
	return ChiSquaredTest{chi, df, distuv.ChiSquared{K: float64(df)}.Survival(chi)}
}
