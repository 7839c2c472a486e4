package signs

import (
	"fmt"
	"slices"
	"strings"
)

// RoadClass is a kind of road that sign sizes and the place of a post depend on.
type RoadClass struct {
	ID      string
	Words   string
	EdgeM   float64 // from the road's line to the edge of the travelled way
	OffsetM float64 // from that edge to the post
	HeightM float64 // of the sign's bottom over the road
	Source  string
}

// Size is an edition's size for the faces of some signs. Roads are the classes of road, none for
// all; UpToMPS is the highest approach speed, 0 for any.
type Size struct {
	Signs   []string
	Roads   []string
	UpToMPS float64
	Words   string // as the edition writes it, with its unit
	Source  string
}

// Combination lists the signs that a sign needs next to it: all of one of the lists.
type Combination struct {
	Sign   string
	With   [][]string
	Source string
}

// allows reports whether these plaques make one of the combinations.
func (k *Combination) allows(plaques []string) bool {
	return slices.ContainsFunc(k.With, func(list []string) bool { return samePlaques(list, plaques) && len(list) == len(plaques) })
}

// combinations reads them and refuses a sign of the file that is in none.
func (c *checker) combinations(raw []rawCombination, scheduled []SignType) []Combination {
	var out []Combination
	for i, r := range raw {
		key := fmt.Sprintf("combination[%d]", i)
		k := Combination{c.text(key+".sign", r.Sign), r.With, c.source(key+".source", r.Source)}
		if len(k.With) == 0 {
			c.fault(key+".with", "no list", `state its companions, as in with = [["523.1", "525"]]`)
		}
		for j, s := range scheduled {
			if strings.EqualFold(s.Designation, k.Sign) && !k.allows(s.Plaques) {
				c.fault(fmt.Sprintf("sign[%d].plaques", j), fmt.Sprintf("%s with %q is not a combination that [[combination]] allows", s.Designation, s.Plaques), "name all of one of its lists")
			}
		}
		out = append(out, k)
	}
	return out
}

// The shapes that a face has on drawings.
const (
	ShapeDiamond   = "diamond"
	ShapeTriangle  = "triangle"
	ShapeRectangle = "rectangle"
	ShapeCircle    = "circle"
)

var shapes = []string{ShapeDiamond, ShapeTriangle, ShapeRectangle, ShapeCircle}

// shapeOfRole is the shape of a sign that names none: signs that lead somewhere and
// panels are rectangles, the others warn.
func shapeOfRole(role, warningShape string) string {
	switch role {
	case RolePanel, RoleCheck, RoleCheckAdvance, RoleChain, RoleChainAdvance, RoleRamp, RoleRampAdvance, RoleEnd:
		return ShapeRectangle
	}
	return warningShape
}

func (c *checker) roads(raw []rawRoad) []RoadClass {
	var out []RoadClass
	for i, r := range raw {
		key := fmt.Sprintf("road[%d]", i)
		if slices.ContainsFunc(out, func(o RoadClass) bool { return o.ID == r.ID }) {
			c.fault(key+".id", fmt.Sprintf("%q occurs twice", r.ID), "give each kind of road its own id")
		}
		out = append(out, RoadClass{c.text(key+".id", r.ID), c.text(key+".words", r.Words), c.length(key+".edge", r.Edge, false),
			c.length(key+".offset", r.Offset, false), c.length(key+".height", r.Height, true), c.source(key+".source", r.Source)})
	}
	if len(out) == 0 {
		c.fault("road", "no kind of road", "add a [[road]] with its edge and offset, so that posts have a place")
	}
	return out
}

func (c *checker) sizes(raw []rawSize, roads []RoadClass) []Size {
	var out []Size
	for i, r := range raw {
		key := fmt.Sprintf("size[%d]", i)
		if len(r.Signs) == 0 {
			c.fault(key+".signs", "no designation", "name the signs and plaques that have this size")
		}
		for _, id := range r.Roads {
			if !slices.ContainsFunc(roads, func(o RoadClass) bool { return o.ID == id }) {
				c.fault(key+".roads", fmt.Sprintf("no [[road]] has the id %q", id), "name one of the file's roads")
			}
		}
		out = append(out, Size{r.Signs, r.Roads, c.speed(key+".up_to", r.UpTo, true), c.text(key+".size", r.Size), c.source(key+".source", r.Source)})
	}
	return out
}

// SizeNotGiven is printed where a rule set has no size for a face.
const SizeNotGiven = "not given"

// size is the first row that fits a face, by road and approach speed.
func (rs *RuleSet) size(designation, road string, approachMPS float64) (words, source string) {
	for _, z := range rs.Sizes {
		fits := slices.ContainsFunc(z.Signs, func(d string) bool { return strings.EqualFold(d, designation) })
		if fits && (len(z.Roads) == 0 || slices.Contains(z.Roads, road)) && (z.UpToMPS == 0 || approachMPS <= z.UpToMPS+sameSpeedMPS) {
			return z.Words, z.Source
		}
	}
	return SizeNotGiven, ""
}
