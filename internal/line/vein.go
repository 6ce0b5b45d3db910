package line

import "math/bits"

// VeinScore is the additive score of how hard a vein is to enter, 0 to 5: a
// point for each of not visible, not palpable, difficult before, difficulty
// expected by whoever tries, and a vein under 3 mm across. The modified A-DIVA
// scale: van Loon et al. 2019, Journal of Clinical Medicine 8:144. (The scale
// of 2016, Medicine 95:e3428, had 2 mm and unplanned surgery instead.) ok is
// false where nobody was asked.
func VeinScore(v Vein) (score int, ok bool) {
	return bits.OnesCount32(uint32(v &^ SetOf(NotDifficult))), v != 0
}

// VeinBand is the group a score falls in.
type VeinBand uint8

// The bands: 0 and 1, 2 and 3, 4 and 5. From memory, to be confirmed against
// the source of VeinScore.
const (
	VeinNotAsked VeinBand = iota
	VeinEasy
	VeinModerate
	VeinHard
)

// VeinBandOf gives the band of a vein.
func VeinBandOf(v Vein) VeinBand {
	score, ok := VeinScore(v)
	switch {
	case !ok:
		return VeinNotAsked
	case score <= 1:
		return VeinEasy
	case score <= 3:
		return VeinModerate
	}
	return VeinHard
}

// Word is the key of the catalogue.
func (b VeinBand) Word() string {
	return "vein-band." + [...]string{"not-asked", "easy", "moderate", "hard"}[b]
}
