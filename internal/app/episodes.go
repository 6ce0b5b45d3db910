package app

import (
	"cmp"
	"context"
	"errors"
	"os"
	"strings"
	"time"

	"dwellbook/internal/interop"
	"dwellbook/internal/line"
	"dwellbook/internal/outcomes"
	"dwellbook/internal/words"
)

// outcomesOfTable answers from a bare table of episodes, without a record.
func outcomesOfTable(ctx context.Context, q OutcomesQuery, clock func() time.Time) (answer Became, err error) {
	t, err := typedFor(nil, cmp.Or(q.Zone, "UTC"))
	if err != nil {
		return answer, err
	}
	a, err := q.read(t)
	if err != nil {
		return answer, err
	}
	table, err := readEpisodes(ctx, q.Episodes, q.Map, t.zone, clock)
	if err != nil {
		return answer, err
	}
	a.period = a.period.Past(line.MinuteOf(clock()))
	c, err := outcomes.Follow(table.Courses, outcomes.Asked{Period: a.period, By: a.by, Members: a.members}, namesIn(table))
	return Became{c, a.hours, a.transform, 0, t.zone, Speaking(ctx, t.hospital(), t.zone, a.period.Until)}, err
}

// namesIn are the wards and roles as the table writes them.
func namesIn(table *interop.Episodes) outcomes.Names {
	written := func(all []string, i int) outcomes.Name {
		if i < 0 {
			return outcomes.Name{}
		}
		return outcomes.Name{ID: all[i], Label: all[i]}
	}
	return outcomes.Names{
		Ward: func(k line.Key) outcomes.Name { return written(table.Wards, int(k)-1) },
		Role: func(c line.Course) outcomes.Name { return written(table.Roles, int(table.Role[c.Line-1])) },
	}
}

// mostTold is how many bad rows are told of one by one.
const mostTold = 20

// readEpisodes reads a table of episodes; any bad row is refused with all of
// the first that are bad.
func readEpisodes(ctx context.Context, name, mapName string, zone *time.Location, clock func() time.Time) (_ *interop.Episodes, err error) {
	mapping, err := readMapping(mapName)
	if err != nil {
		return nil, err
	}
	file, err := os.Open(name) // #nosec G304 -- named by whoever runs the command
	if err != nil {
		return nil, &Misuse{Text: "-episodes: " + err.Error()}
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	table, err := interop.ReadEpisodes(file, interop.EpisodeOptions{Mapping: mapping, Zone: zone, Now: clock()})
	if err != nil || len(table.Bad) == 0 {
		return table, err
	}
	ctx = Speaking(ctx, line.Hospital{}, zone, line.MinuteOf(clock()))
	var told []string
	for _, bad := range table.Bad[:min(mostTold, len(table.Bad))] {
		told = append(told, badRow(ctx, bad)...)
	}
	told = append(told, words.Say(ctx, "import.table-bad", "n", len(table.Bad)))
	return nil, errors.New(strings.Join(told, "\n"))
}
