package stats

// FitCoxOfAnyEvents fits without the refusal of few events, for published
// examples that have few.
func FitCoxOfAnyEvents(rows []CoxRow, ties Ties) (*CoxFit, error) { return fitCox(rows, ties, 0) }

// FitLogisticOfAnyEvents is the same of logistic regression.
func FitLogisticOfAnyEvents(rows []LogisticRow) (*LogisticFit, error) { return fitLogistic(rows, 0) }

// BrookEvans is the average run length of a sum of any scores.
func BrookEvans(scores, probabilities []float64, limit float64) float64 {
	var all []chance
	for k, s := range scores {
		all = append(all, chance{s, probabilities[k]})
	}
	return brookEvans(all, limit, cells)
}
