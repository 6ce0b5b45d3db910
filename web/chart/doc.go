// Package chart draws statistical charts on the server, from plain numbers and
// words. A chart is a small struct; [Chart.Draw] makes of it a [Drawing], which
// can be put into a page (it is a templ component), saved as an SVG file, or
// saved as a PNG for slides: drawn once, written three ways.
//
//	curves := chart.Curves{
//		About:  chart.About{ID: "survival", Title: "…", Desc: "…"},
//		Groups: []chart.Curve{{Name: "Forearm", Steps: steps}},
//	}
//	@curves.Draw(chart.Wide)
//	@curves.Draw(chart.Narrow)
//
// A page holds both sizes and its stylesheet shows one: the classes are
// chart-wide and chart-narrow. In a page the inks are the stylesheet's own
// custom properties, so light, dark, print and forced colours come from there.
// Files are in the light colours.
//
// The words are the caller's, and so is what they say: a chart writes only them
// and numbers. Colour never speaks alone: curves differ by dash, areas by
// texture, what stands out by shape, and each carries its name beside it.
//
// A value that is NaN or infinite is missing: it leaves a gap and is never
// written, but for the open end of an interval, which becomes an arrow.
package chart
