package view

import (
	"context"
	"fmt"
	"slices"
	"time"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// Backups is how the copies of the record stand.
type Backups struct {
	Shell Shell
	House *desk.House
	desk.Backups
	Now   time.Time
	Cause string // of the last try, where it failed
}

// shownBackups is how many copies the page lists.
const shownBackups = 12

func troubleText(ctx context.Context, t desk.Trouble) string {
	return words.Say(ctx, "backups.trouble."+string(t))
}

func (p Backups) figures(ctx context.Context) []Figure {
	last, ok := p.Last()
	if !ok {
		return nil
	}
	old := p.Now.Sub(last.At) > p.OldAfter()
	return []Figure{
		{Number: words.Span(ctx, p.Now.Sub(last.At)), Label: words.Say(ctx, "backups.age"), Wrong: old},
		{Number: bytesText(last.Bytes), Label: words.Say(ctx, "backups.size")},
		{Number: count(len(p.Kept)), Label: words.Say(ctx, "backups.kept", "n", len(p.Kept))},
	}
}

func (p Backups) table(ctx context.Context) TableData {
	t := TableData{Caption: words.Say(ctx, "backups.list"), Columns: []Column{
		{Label: words.Say(ctx, "backups.made")}, {Label: words.Say(ctx, "backups.bytes"), Num: true},
	}}
	for _, b := range slices.Backward(p.Kept[max(0, len(p.Kept)-shownBackups):]) {
		t.Rows = append(t.Rows, TableRow{Cells: []Cell{{Text: stamp(ctx, p.House, line.MinuteOf(b.At))}, {Text: bytesText(b.Bytes)}}})
	}
	return t
}

// bytesText is a size in thousands, as disks are sold.
func bytesText(n int64) string {
	size, unit := float64(n)/1000, "kB"
	for _, next := range []string{"MB", "GB", "TB"} {
		if size < 1000 {
			break
		}
		size, unit = size/1000, next
	}
	if size < 10 {
		return fmt.Sprintf("%.1f %s", size, unit)
	}
	return fmt.Sprintf("%.0f %s", size, unit)
}
