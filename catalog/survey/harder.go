package survey

import (
	"math"
	"slices"

	"gradeline/catalog"
	"gradeline/routes"
)

// takeHarder replaces each hold by that of the longer hill if that is harder. What the easier one
// says of the heaviest mass and of surfaces still counts: a truck may take either way down. endM is
// the station of the road's end on the longer line.
func takeHarder(e, on *catalog.Entry, r *routes.Route, endM float64) {
	for i := range e.Holds {
		for k := range on.Holds {
			if on.Holds[k].Class != e.Holds[i].Class {
				continue
			}
			h, other := e.Holds[i], onRoad(on.Holds[k], &e.Descent, r, endM)
			if isHarder(&other, &h) {
				other.GearByM = h.GearByM
				h, other = other, h
			}
			h.HeaviestMassKg = math.Min(h.HeaviestMassKg, other.HeaviestMassKg)
			if h.Holds && other.Holds {
				h.Surfaces, h.SurfacesOut = worseSurfaces(h.Surfaces, other.Surfaces), union(h.SurfacesOut, other.SurfacesOut)
			}
			e.Holds[i] = h
		}
	}
}

// worseSurfaces takes of two answers for each surface the worse.
func worseSurfaces(a, b []catalog.SurfaceAnswer) []catalog.SurfaceAnswer {
	out := slices.Clone(a)
	for i := range out {
		for k := range b {
			if b[k].Surface == out[i].Surface && (out[i].Allowed && !b[k].Allowed || out[i].Allowed == b[k].Allowed && b[k].FrictionApplied > out[i].FrictionApplied) {
				out[i] = b[k]
			}
		}
	}
	return out
}

func union(a, b []string) []string {
	out := slices.Clone(a)
	for _, s := range b {
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}

func isHarder(a, b *catalog.Hold) bool {
	if a.Holds != b.Holds {
		return b.Holds
	}
	if a.Holds && a.SpeedMPS != b.SpeedMPS {
		return a.SpeedMPS < b.SpeedMPS
	}
	return a.HeaviestMassKg < b.HeaviestMassKg
}

// onRoad turns the stations of a hold on the longer line into those of the road; stations beyond
// the road's end become its end, and stretches there are left out.
func onRoad(h catalog.Hold, d *routes.Descent, r *routes.Route, endM float64) catalog.Hold {
	station := func(m float64) float64 {
		if d.Direction == routes.Backward {
			return math.Max(0, math.Min(r.LengthM, endM-m))
		}
		return math.Max(0, math.Min(r.LengthM, r.LengthM-(endM-m)))
	}
	h.GearByM, h.SlowFromM = station(h.GearByM), station(h.SlowFromM)
	stretches := []catalog.HoldStretch{}
	for _, s := range h.Stretches {
		if s.FromM < endM {
			s.FromM, s.ToM = station(s.FromM), station(s.ToM)
			stretches = append(stretches, s)
		}
	}
	h.Stretches = stretches
	heat := []catalog.HeatStation{}
	for _, t := range h.Heat {
		if t.StationM <= endM {
			t.StationM = station(t.StationM)
			heat = append(heat, t)
		}
	}
	h.Heat = heat
	h.Limits = append([]catalog.SpeedCeiling(nil), h.Limits...)
	for i := range h.Limits {
		h.Limits[i].StationM = station(h.Limits[i].StationM)
	}
	h.Gears = append([]catalog.GearOutcome(nil), h.Gears...)
	for i := range h.Gears {
		h.Gears[i].StationM = station(h.Gears[i].StationM)
	}
	return h
}
