package survey

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/routes"
)

// entry is a descent with its line and its holds. A class without advice has no hold, and Skipped
// says why.
func (res *Result) entry(p *routes.Profile, r *routes.Route, d routes.Descent, o Options) catalog.Entry {
	d.Route = r.ID
	d.Name = name(r, &d)
	if r.OneWay && d.Direction != r.OneWayDir {
		d.Flags = append(d.Flags, routes.FlagAgainstOneWay)
	}
	e := catalog.Entry{Descent: d, Line: line(p, &d), Provenance: res.provenance(p, r, &o, d.StartM, d.EndM),
		Review: catalog.Review{State: catalog.Surveyed}}
	adviser := holding.NewAdviser(holding.HillFromDescent(p, &d, r.Limits))
	fleet := o.fleet
	if !fleet.IsFor(o.Classes) {
		fleet = holding.NewFleet(o.Classes)
	}
	for i, c := range o.Classes {
		h, err := fleet.Advise(adviser, i, holding.Options{MassKg: o.MassKg, Weather: weatherOr(o.Weather)})
		if err != nil {
			res.Skipped = append(res.Skipped, routes.Skipped{
				Where: fmt.Sprintf("%s, %s descent from station %.0f m, class %s", r.ID, d.Direction, d.StartM, c.ID),
				Why:   "no advice: " + err.Error()})
			continue
		}
		e.Holds = append(e.Holds, h)
	}
	return e
}

// weatherOr is a weather, or the usual one in place of none.
func weatherOr(w *catalog.Weather) *catalog.Weather {
	if w == nil {
		return holding.UsualWeather()
	}
	return w
}

// provenance lists the sources of a stretch of the route.
func (res *Result) provenance(p *routes.Profile, r *routes.Route, o *Options, startM, endM float64) catalog.Provenance {
	v := o.Provenance
	v.CellM, v.NoiseM, v.RouteFile = p.CellM, p.Noise.SigmaM, r.Place.File
	v.Drives = usedOn(res.Drives, startM, endM)
	if r.Place.IsWay { // read from an OpenStreetMap extract
		v.Credits = append(slices.Clone(v.Credits), routes.OSMCredit)
	}
	return v
}

// name is the route's name with the compass direction from crest to foot.
func name(r *routes.Route, d *routes.Descent) string {
	base := r.Name
	if base == "" {
		base = r.Ref
	}
	if base == "" {
		base = cmp.Or(r.Title, r.ID)
	}
	dx := math.Mod(d.FootLonDeg-d.CrestLonDeg+540, 360) - 180
	dx *= math.Cos((d.FootLatDeg + d.CrestLatDeg) / 2 * math.Pi / 180)
	dy := d.FootLatDeg - d.CrestLatDeg
	way := "north"
	switch {
	case math.Abs(dx) >= math.Abs(dy) && dx >= 0:
		way = "east"
	case math.Abs(dx) >= math.Abs(dy):
		way = "west"
	case dy < 0:
		way = "south"
	}
	return fmt.Sprintf("%s, %sbound", base, way)
}

// toUnit rounds to so many parts of one: a line that is kept for years takes a tenth of
// the bytes without digits below 1e-7 degrees (1 cm), 0.1 mm of height, 1 mm of station.
func toUnit(v, parts float64) float64 { return math.Round(v*parts) / parts }

// line is the descent's line from crest to foot with heights and stations, a
// vertex at each station of the profile.
func line(p *routes.Profile, d *routes.Descent) []catalog.Vertex {
	lo, hi := math.Min(d.StartM, d.EndM), math.Max(d.StartM, d.EndM)
	add := func(list []catalog.Vertex, stationM float64) []catalog.Vertex {
		pt := p.PointAt(stationM)
		return append(list, catalog.Vertex{LonDeg: toUnit(pt[0], 1e7), LatDeg: toUnit(pt[1], 1e7), ElevationM: toUnit(p.ElevationAtM(stationM), 1e4), StationM: toUnit(stationM, 1e3)})
	}
	vs := add(nil, lo)
	// Stations every ten metres are enough to draw any road; more would only enlarge the file.
	every := max(1, int(10/p.StepM))
	for i := int(p.IndexFromStationM(lo)) + 1; p.StationM(i) < hi-0.5; i += every {
		if p.StationM(i) > lo+0.5 {
			vs = add(vs, p.StationM(i))
		}
	}
	vs = add(vs, hi)
	if d.Direction == routes.Backward {
		for i, j := 0, len(vs)-1; i < j; i, j = i+1, j-1 {
			vs[i], vs[j] = vs[j], vs[i]
		}
	}
	return vs
}
