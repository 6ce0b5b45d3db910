package main

import (
	"context"
	"flag"

	"dwellbook/internal/app"
)

func flowThrough(ctx context.Context, args []string, std streams) (int, error) {
	f := flags("flow", "-gauge N [flags]", std)
	q := app.FlowQuery{Given: map[string]bool{}}
	f.IntVar(&q.Gauge, "gauge", 0, "the cannula's `gauge`: 14 to 26")
	f.Float64Var(&q.LengthMM, "length-mm", 0, "its `length` (default as usual for the gauge)")
	f.Float64Var(&q.BoreMM, "bore-mm", 0, "its inner `diameter` (default as usual for the gauge)")
	f.StringVar(&q.Fluid, "fluid", "saline", "`what` runs: saline, water, balanced, gelatin, plasma, blood or red-cells")
	f.Float64Var(&q.TemperatureC, "temperature-c", 22, "its `temperature`")
	f.Float64Var(&q.HeadCM, "head-cm", 100, "`height` of the fluid above the cannula; none where -pressure-mmhg is given")
	f.Float64Var(&q.PressureMMHg, "pressure-mmhg", 0, "`pressure` of a pressure bag instead of a head")
	f.BoolVar(&q.Connector, "connector", false, "through a needle-free connector")
	f.BoolVar(&q.Extension, "extension", false, "through a short extension set")
	f.StringVar(&q.Tubing, "tubing", "standard", "`giving` set: standard or wide")
	f.BoolVar(&q.CannulaOnly, "cannula-only", false, "the whole head across the bare cannula, as in the standard bench test")
	f.Float64Var(&q.VeinMMHg, "vein-mmhg", 8, "`pressure` in the vein; 0 with -cannula-only")
	asJSON := f.Bool("json", false, "answer in JSON")
	if err := parse(f, args, std, 0); err != nil {
		return misused, err
	}
	f.Visit(func(one *flag.Flag) { q.Given[one.Name] = true })
	through, err := app.Flow(ctx, q)
	if err != nil {
		return undone, err
	}
	return answer(std, through.Table, through.JSON, *asJSON)
}
