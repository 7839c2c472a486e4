package signs

import "gradeline/routes"

// Course is the road of a schedule as one meets it in travel: places are distances
// past the crest, in metres, negative before it. It is what a drawing needs.
type Course struct {
	LengthM    float64 // from crest to foot
	Structures []CourseStructure
	Curves     []CourseCurve // those that ask for less than the approach speed

	line *travel
}

// CourseStructure is a bridge or a tunnel on the way.
type CourseStructure struct {
	Kind       routes.StructureKind
	FromM, ToM float64
}

// CourseCurve is a curve on the way with the tightest radius in it.
type CourseCurve struct{ FromM, ToM, RadiusM float64 }

// Course gives the road that the schedule was planned on.
func (s *Schedule) Course() Course {
	t := s.line
	c := Course{LengthM: t.lenM, line: t}
	for _, x := range t.p.Structures {
		a, b := t.pastM(x.FromM), t.pastM(x.ToM)
		c.Structures = append(c.Structures, CourseStructure{x.Kind, min(a, b), max(a, b)})
	}
	for _, b := range t.bends(&s.rules, s.ApproachMPS) {
		c.Curves = append(c.Curves, CourseCurve{b.at.fromM, b.at.toM, b.radiusM})
	}
	return c
}

// PastM gives how far past the crest a station lies.
func (c *Course) PastM(stationM float64) float64 { return c.line.pastM(stationM) }

// StationM gives the station of a place so far past the crest.
func (c *Course) StationM(pastM float64) float64 { return c.line.stationM(pastM) }

// ElevationM gives the grade line's height so far past the crest; NaN where there
// is none.
func (c *Course) ElevationM(pastM float64) float64 {
	return c.line.p.ElevationAtM(c.line.stationM(pastM))
}
