package chart

import "strconv"

// texture is drawn over a fill, so that areas differ without colour.
type texture uint8

const (
	plain texture = iota
	rising
	falling
	dotted
	upright
	crossed
)

// tile is the side of the square that a texture repeats.
const tile = 8

// textures are the strokes in one tile; a run of one point is a dot.
var textures = [...][][]point{
	plain:   nil,
	rising:  {{{-2, 2}, {2, -2}}, {{-2, 10}, {10, -2}}, {{6, 10}, {10, 6}}},
	falling: {{{-2, 6}, {2, 10}}, {{-2, -2}, {10, 10}}, {{6, -2}, {10, 2}}},
	dotted:  {{{2, 2}}, {{6, 6}}},
	upright: {{{2, 0}, {2, 8}}, {{6, 0}, {6, 8}}},
	crossed: {{{-2, -2}, {10, 10}}, {{-2, 10}, {10, -2}}},
}

// textureName names a textured fill: equal fills have equal names.
func (p pen) textureName() string {
	return "texture-" + strconv.Itoa(int(p.texture)) + "-" + inks[p.fill].property[2:] + "-" + strconv.Itoa(int(p.tint*100))
}

// tile is one square of a textured fill: its ground in the pen's tint, the
// strokes in full ink.
func (p pen) tile() []shape {
	ground := path{class: "ground", closed: true, runs: [][]point{rectangle(box{0, 0, tile, tile})}, pen: pen{fill: paper}}
	tint := ground
	tint.pen = pen{fill: p.fill, tint: p.tint}
	shapes := []shape{ground, tint}
	for _, run := range textures[p.texture] {
		if len(run) == 1 {
			shapes = append(shapes, disc{class: "stroke", at: run[0], r: 1, pen: pen{fill: p.fill}})
		} else {
			shapes = append(shapes, path{class: "stroke", runs: [][]point{run}, pen: pen{stroke: p.fill, width: 1.2}})
		}
	}
	return shapes
}
