package stats

// FitCoxOfAnyEvents fits without the refusal of few events, for published
// examples that have few.
func FitCoxOfAnyEvents(rows []CoxRow, ties Ties) (*CoxFit, error) { return fitCox(rows, ties, 0) }
