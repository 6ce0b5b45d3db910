package view

import (
	"context"
	"fmt"
	"slices"

	"dwellbook/internal/line"
	"dwellbook/internal/words"
)

// The figure is drawn in units of a 320 by 572 box, the patient facing the
// reader, the arms larger than life so that a thumb finds each part.
const (
	armPath  = "M100 138C82 139 74 152 70 170C64 196 58 214 51 238C44 262 38 288 31 316C27 334 23 348 19 362C13 376 8 392 9 410C9 424 11 438 17 446C23 452 30 449 33 442C38 434 42 424 45 412C49 420 54 427 59 426C64 424 62 412 58 402C54 392 52 380 52 366C58 350 66 332 72 312C80 288 87 268 92 246C98 222 104 206 107 184C110 160 110 145 100 138Z"
	bodyPath = "M146 92C146 108 146 116 140 122C130 129 112 131 100 138C104 150 108 170 108 190C110 224 115 246 114 272C113 298 104 318 103 346C102 384 110 404 113 430C115 452 120 470 121 490C120 510 110 526 104 542C99 556 107 563 122 563C138 563 149 560 150 548C151 526 148 508 148 490C150 466 153 444 153 424C154 400 157 380 160 356C163 380 166 400 167 424C167 444 170 466 172 490C172 508 169 526 170 548C171 560 182 563 198 563C213 563 221 556 216 542C210 526 200 510 199 490C200 470 205 452 207 430C210 404 218 384 217 346C216 318 207 298 206 272C205 246 210 224 212 190C212 170 216 150 220 138C208 131 190 129 180 122C174 116 174 108 174 92Z"
)

// bodyRegion is one part of the figure on the patient's right: the box that
// can be touched, and the outline that clips what is seen of it.
type bodyRegion struct {
	site       line.Site
	clip       string
	x, y, w, h int
	pin        int // where along x the mark of the chosen part stands
}

// cut is the upper and lower border of the part.
func (r bodyRegion) cut() string {
	return fmt.Sprintf("M%d %dh%dM%d %dh%d", r.x, r.y, r.w, r.x, r.y+r.h, r.w)
}

var trunkRegions = []bodyRegion{
	{line.Neck, "fig-body", 112, 94, 48, 44, 148},
	{line.Ankle, "fig-body", 92, 460, 67, 50, 135},
	{line.FootDorsum, "fig-body", 92, 510, 67, 56, 126},
}

var armRegions = []bodyRegion{
	{line.UpperArm, "fig-arm", 0, 138, 112, 80, 84},
	{line.ElbowCrease, "fig-arm", 0, 218, 104, 54, 69},
	{line.Forearm, "fig-arm", 0, 272, 102, 58, 52},
	{line.Wrist, "fig-arm", 0, 330, 96, 48, 37},
	{line.HandDorsum, "fig-arm", 0, 378, 92, 76, 29},
}

func limited(limits []string, limb string) bool { return slices.Contains(limits, limb) }

func siteOptions(ctx context.Context) []Option {
	sites := line.Site(0).All()
	options := make([]Option, len(sites))
	for i, site := range sites {
		options[i] = Option{Value: site.String(), Label: words.Say(ctx, site.Word())}
	}
	return options
}

// sideOptions stand as the figure shows them: the patient's right first.
func sideOptions(ctx context.Context) []Option {
	return []Option{
		{Value: line.Right.String(), Label: words.Say(ctx, "kit.side-right")},
		{Value: line.Left.String(), Label: words.Say(ctx, "kit.side-left")},
		{Value: "none", Label: words.Say(ctx, "kit.side-none")},
	}
}
