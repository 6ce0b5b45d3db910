package chart

import "slices"

// block is words of several lines that belong to a place on the sheet.
type block struct {
	words string
	note  string   // stands below the words, softer
	lines []string // the words as set
	quiet []string // the note as set
	ink   ink
	from  point   // what it names
	want  float64 // where its middle would stand best
	at    float64 // where it stands
}

func (b block) height(line float64) float64 { return float64(len(b.lines)+len(b.quiet)) * line }

// spread moves blocks up and down as little as will keep them apart and between
// top and bottom; their order is that of where they want to be. Blocks that
// push each other stand together about the middle of their wishes.
func spread(blocks []*block, line, top, bottom float64) {
	sorted := slices.Clone(blocks)
	slices.SortStableFunc(sorted, func(a, b *block) int {
		switch {
		case a.want < b.want:
			return -1
		case a.want > b.want:
			return 1
		}
		return 0
	})
	type pile struct {
		blocks      []*block
		top, height float64
		wish        float64 // sum over the blocks of where the pile's top should be
	}
	place := func(p *pile) {
		p.top = max(top, min(bottom-p.height, p.wish/float64(len(p.blocks))))
	}
	var piles []*pile
	for _, b := range sorted {
		h := b.height(line)
		p := &pile{blocks: []*block{b}, height: h, wish: b.want - h/2}
		place(p)
		for len(piles) > 0 {
			above := piles[len(piles)-1]
			if above.top+above.height <= p.top {
				break
			}
			above.wish += p.wish - float64(len(p.blocks))*above.height
			above.height += p.height
			above.blocks = append(above.blocks, p.blocks...)
			place(above)
			p, piles = above, piles[:len(piles)-1]
		}
		piles = append(piles, p)
	}
	for _, p := range piles {
		y := p.top
		for _, b := range p.blocks {
			h := b.height(line)
			b.at = y + h/2
			y += h
		}
	}
}

// setNames sets words for the gutter beside a plot, in full where all go in, else
// in fewer lines each. It gives the room that they take.
func (s sheet) setNames(blocks []*block, room float64) (taken float64) {
	for lines := 3; lines >= 1; lines-- {
		height := 0.0
		taken = 0
		for _, b := range blocks {
			b.lines = wrap(b.words, s.kind, false, room, lines)
			b.quiet = wrap(b.note, s.kind, false, room, lines-1)
			height += b.height(s.line())
			taken = max(taken, widest(b.lines, s.kind, false), widest(b.quiet, s.kind, false))
		}
		if height <= s.plot {
			break
		}
	}
	return taken
}

// writeBlock writes a block from a left edge.
func (d *Drawing) writeBlock(class string, left float64, b *block) {
	s := d.sheet()
	y := b.at - b.height(s.line())/2 + (s.line()+s.kind*2*middleY)/2
	for _, words := range b.lines {
		d.write(class, point{left, y}, start, b.ink, words)
		y += s.line()
	}
	for _, words := range b.quiet {
		d.write(class, point{left, y}, start, soft, words)
		y += s.line()
	}
}

// beside writes names in the gutter at the right of a plot, each led to from
// what it names where that is not next to it.
func (p plot) beside(class string, blocks []*block, reach float64) {
	spread(blocks, p.sheet().line(), p.area.top, p.area.bottom)
	for _, b := range blocks {
		p.writeBlock(class, p.area.right+reach, b)
		far := p.area.right+reach-3-b.from.x > 12 || b.at-b.from.y > 4 || b.from.y-b.at > 4
		if far && len(b.lines) > 0 {
			p.add(path{class: "leader", pen: pen{stroke: edge, width: 0.8}, runs: [][]point{{
				{b.from.x + 2, b.from.y}, {max(b.from.x+2, p.area.right), b.from.y}, {p.area.right + reach - 3, b.at}}}})
		}
	}
}
