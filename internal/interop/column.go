package interop

// column is a column of ours; the zero value is the row as a whole.
type column uint8

const (
	wholeRow column = iota
	lineIDColumn
	wardColumn
	bedColumn
	refColumn
	insertedColumn
	siteColumn
	sideColumn
	gaugeColumn
	operatorColumn
	attemptsColumn
	asepsisColumn
	dressingColumn
	dressedColumn
	reviewedColumn
	scoreColumn
	removedColumn
	reasonColumn
	// Of episode tables only.
	firstTimeColumn
	roleColumn
	columnCount
)

var columnNames = [columnCount]string{
	"", "line_id", "ward", "bed", "patient_ref", "inserted_at", "site", "side", "gauge", "operator", "attempts", "asepsis",
	"dressing", "dressed_at", "last_review_at", "last_score", "removed_at", "removal_reason",
	"first_attempt_success", "operator_role",
}

// Columns lists the columns a sheet may have, in our own order.
var Columns = columnNames[lineIDColumn:firstTimeColumn]

// EpisodeColumns lists the columns a table of episodes may have: those of a
// sheet, of which some say nothing here, and its own.
var EpisodeColumns = columnNames[lineIDColumn:]

func (c column) String() string { return columnNames[c] }
