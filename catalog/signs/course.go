package signs

import (
	"math"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// Course is the road of a schedule in the direction of travel, for drawings. Places are distances
// past the crest, in metres, negative before it.
type Course struct {
	LengthM    float64 // from crest to foot
	Structures []CourseStructure
	Curves     []CourseCurve // curves with an advisory speed below the approach speed

	line *travel
}

// CourseStructure is a bridge or a tunnel on the way.
type CourseStructure struct {
	Kind       routes.StructureKind
	FromM, ToM float64
}

// CourseCurve is a curve on the way with the tightest radius in it.
type CourseCurve struct{ FromM, ToM, RadiusM float64 }

// Course returns the road that the schedule was planned on.
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

// PastM is the distance of a station past the crest.
func (c *Course) PastM(stationM float64) float64 { return c.line.pastM(stationM) }

// StationM is the station of a place at a distance past the crest.
func (c *Course) StationM(pastM float64) float64 { return c.line.stationM(pastM) }

// ElevationM is the grade line's height at a distance past the crest; NaN where there is none.
func (c *Course) ElevationM(pastM float64) float64 {
	return c.line.p.ElevationAtM(c.line.stationM(pastM))
}

// IsKnown reports whether the line's place is known at a distance past the crest.
func (c *Course) IsKnown(pastM float64) bool {
	pt := c.line.p.PointAt(c.line.stationM(pastM))
	return c.line.onLine(c.line.stationM(pastM)) && !math.IsNaN(pt[0]+pt[1])
}

// PlanM puts places of the line on a plane, metres east and north of the place at
// originPastM, good to a few parts in ten thousand over a kilometre.
func (c *Course) PlanM(originPastM float64, pastM []float64) []orb.Point {
	stations := make([]float64, len(pastM))
	for i, x := range pastM {
		stations[i] = c.line.stationM(x)
	}
	return c.line.planM(c.line.stationM(originPastM), stations...)
}

// PlanOfM puts a place on the same plane.
func (c *Course) PlanOfM(originPastM, lonDeg, latDeg float64) orb.Point {
	return planM(c.line.p.PointAt(c.line.stationM(originPastM)), orb.Point{lonDeg, latDeg})
}
