package survey

import (
	"bytes"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/routes"
	"gradeline/terrain"
)

// The catalogue and the journal have one writer. What takes long and needs neither is made by the
// workers: the packed rows and the JSON text of each result.

// prepared is a result as it will be written. Only the ids that the catalogue chooses are missing.
type prepared struct {
	survey store.RouteSurvey
	packed *store.Packed // nil: it could not be packed, which Save reports
	road   *store.NetworkRoad
	nodes  []nodeHeight
	places [][2]float64
	found  *RouteFacts
	facts  []byte   // found as JSON text, for the route's own id
	holds  [][]byte // the advice of each entry as JSON text
	rows   []byte   // of the profile file, for the route's own id
}

// nameSources returns the rasters under a road and under the roads in which its hills continue, and names
// them in what was found on it: of a folder of tiles the others say nothing about it, nor do their changes.
func (j *Job) nameSources(r *Result) []terrain.Raster {
	if j.surface == nil {
		return nil
	}
	lines := [][]terrain.Point{pointsOf(r.Route.Line)}
	for i := range r.Entries {
		for _, on := range r.Entries[i].Descent.GoesOn {
			lines = append(lines, j.linesOf(on.Route)...)
		}
	}
	sources := j.surface.SourcesUnder(lines...)
	names, datum := rasterNames(sources)
	for i := range r.Entries {
		r.Entries[i].Provenance.Rasters, r.Entries[i].Provenance.VertDatum = names, datum
	}
	for i := range r.SteepParts {
		r.SteepParts[i].Provenance.Rasters, r.SteepParts[i].Provenance.VertDatum = names, datum
	}
	return sources
}

// linesOf are the lines of a road of the network.
func (j *Job) linesOf(road string) (lines [][]terrain.Point) {
	net := j.roads.Network()
	pieces := net.Travel(road, routes.Forward)
	if pieces == nil { // closed in that direction
		pieces = net.Travel(road, routes.Backward)
	}
	for i := range pieces {
		lines = append(lines, pointsOf(pieces[i].Feature.Line))
	}
	return lines
}

func pointsOf(line orb.LineString) []terrain.Point {
	out := make([]terrain.Point, len(line))
	for i, p := range line {
		out[i] = terrain.Point{LonDeg: p[0], LatDeg: p[1]}
	}
	return out
}

// prepare makes what will be written of a result. It runs in the workers, several at once.
func (j *Job) prepare(r *Result) error {
	sources := j.nameSources(r)
	isWhole, why := r.Profile.Whole()
	var places []nodePlace
	if r.network != 0 {
		places = j.roads.nodesOf(&r.Route, r.Profile.LengthM)
	}
	p := &prepared{nodes: nodeHeights(r.Profile, places)}
	p.survey = store.RouteSurvey{
		Route: store.RouteRecord{ID: r.Route.ID, Title: r.Route.Title, Name: r.Route.Name, Ref: r.Route.Ref, LengthM: r.Profile.LengthM, Stations: r.Stations,
			MissingM: r.Profile.MissingM, Reliable: isWhole, Unreliable: why, LineSHA256: store.LineSHA256(r.Route.Line)},
		Entries: r.Entries, Profile: r.Profile, Sources: sources, ClassesUsed: j.classes, SteepParts: r.SteepParts, PossibleSteepM: &r.PossibleSteepM}
	if !j.setup.DryRun {
		p.packed, _ = store.Pack(&p.survey) // a fault is found again where it is reported, by Save
		if err := j.prepareNetworkRoad(r, p); err != nil {
			return err
		}
	}
	found := factsOf(r)
	p.found = &found
	if j.surface != nil && j.surface.HasOverlaps() {
		p.places = placesOf(r.Profile)
	}
	if j.setup.KeepAll {
		p.facts = plainJSON(found)
		for i := range r.Entries {
			p.holds = append(p.holds, holdsJSON(r.Entries[i].Holds))
		}
	}
	if j.setup.KeepProfile {
		var b bytes.Buffer
		if err := writeRows(&b, r.Route.ID, r.Profile); err != nil {
			return err
		}
		p.rows = b.Bytes()
	}
	r.prepared = p
	return nil
}

// prepareNetworkRoad packs a road of a joined network.
func (j *Job) prepareNetworkRoad(r *Result, p *prepared) error {
	if r.network == 0 {
		return nil
	}
	kept, ok := j.roads.Network().KeptRoad(r.Route.ID)
	if !ok {
		return nil
	}
	p.road = &store.NetworkRoad{KeptRoad: kept, Masks: r.masks}
	if err := p.road.PackLines(); err != nil {
		return err
	}
	return p.road.Pack(r.Profile)
}

func holdsJSON(list []catalog.Hold) []byte {
	if list == nil {
		list = []catalog.Hold{}
	}
	return plainJSON(list)
}

// descentsJSON is the text of a result's descents as they were stored, with commas between. The text
// of the advice was made before; it is made again where the catalogue has other advice.
func (p *prepared) descentsJSON(stored []catalog.Entry) []byte {
	var out []byte
	for i := range stored {
		e := &stored[i]
		var holds []byte
		if ours := p.survey.Entries; i < len(ours) && isSameList(ours[i].Holds, e.Holds) {
			holds = p.holds[i]
		} else {
			holds = holdsJSON(e.Holds)
		}
		if i > 0 {
			out = append(out, ',', '\n')
		}
		d := plainJSON(e.Descent)
		out = append(append(out, d[:len(d)-1]...), `,"holds":`...)
		out = append(append(out, holds...), '}')
	}
	return out
}

// isSameList reports whether two lists are one in memory, or both empty.
func isSameList(a, b []catalog.Hold) bool {
	return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0])
}

// factsFor is what was found of a route under the id that the catalogue has for it, also as JSON
// text where the job keeps that.
func (j *Job) factsFor(p *prepared, id string) (*RouteFacts, []byte) {
	if id == p.found.Route || !j.setup.KeepAll {
		renameFacts(p.found, id)
		return p.found, p.facts
	}
	renameFacts(p.found, id)
	return p.found, plainJSON(p.found)
}

func renameFacts(f *RouteFacts, id string) {
	f.Route = id
	for i := range f.BelowThreshold {
		f.BelowThreshold[i].Route = id
	}
}

// rowsFor are a route's rows of the profile file under the id that the catalogue has for it.
func (p *prepared) rowsFor(id string, own *routes.Route) ([]byte, error) {
	if id == own.ID {
		return p.rows, nil
	}
	var b bytes.Buffer
	err := writeRows(&b, id, p.survey.Profile)
	return b.Bytes(), err
}
