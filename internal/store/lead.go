package store

import (
	"context"
	"math"

	"dwellbook/internal/line"
)

// WardCandidates is Candidates for those who may have been on one ward in the
// stretch, as any version of the record told. Who has a line in now is given
// whatever the ward.
func (s *Store) WardCandidates(ctx context.Context, ward line.Key, from, until line.Minute) ([]line.Key, error) {
	until = max(until, from+1)
	last := dayOf(min(until-1, math.MaxInt32))
	return all(ctx, s, wardCandidates, value[line.Key], dayOf(from), last, int64(until), int64(ward))
}

// FollowUps gives the follow-ups that stand and happened in the stretch, oldest first.
func (s *Store) FollowUps(ctx context.Context, in line.Stretch) ([]line.Mark, error) {
	return all(ctx, s, followUps, markScanner(), int64(in.From), int64(in.Until))
}

var (
	// A day of no ward (0) may turn out to be of any.
	wardCandidates = stated(reading, "find a ward's patients by days", `
		SELECT subject FROM span WHERE day BETWEEN ?1 AND ?2 AND ward IN (?4, 0)
		UNION SELECT subject FROM span WHERE day = -1
		UNION SELECT subject FROM line INDEXED BY line_open WHERE out IS NULL AND first < ?3
		ORDER BY 1`)
	// The index is of these two values alone, so they stand as they are.
	followUps = stated(reading, "read follow-ups", "SELECT "+markColumns+` FROM mark INDEXED BY mark_follow_up
		WHERE kind = 13 AND gone = 0 AND happened >= ?1 AND happened < ?2 ORDER BY happened, seq`)
)
