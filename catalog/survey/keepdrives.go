package survey

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/routes"
	"gradeline/routes/grade"
	"gradeline/routes/recorded"
)

// DriveImport says which recordings go into a catalogue.
type DriveImport struct {
	Paths         []string // files, or folders of them
	AreBarometric bool     // see ReadDrives
	Label         string   // kept with each drive; usually empty
	By            string   // for the catalogue's history
}

// ImportedDrives are recordings that the catalogue now keeps, and what they changed.
type ImportedDrives struct {
	Drives   []ImportedDrive
	Skipped  []routes.Skipped
	Question []store.Question // reviewed descents that the drives contradict
}

// ImportedDrive says what is kept of one recording.
type ImportedDrive struct {
	File   string
	Number int64
	Passes int     // over hills of the catalogue
	New    int     // of them, those that were not kept before
	KeptM  float64 // road of all passes
}

// ImportDrives keeps the parts of recorded drives that lie on the hills of a catalogue, 2 km before
// and after each included. The rest of a recording is not kept, nor is who drove or when. A
// reviewed descent that its drives contradict beyond its bound comes into question.
func ImportDrives(ctx context.Context, cat *store.Catalog, o DriveImport) (*ImportedDrives, error) {
	d, skipped, err := ReadDrives(ctx, o.Paths, o.AreBarometric)
	if err != nil {
		return nil, err
	}
	out := &ImportedDrives{Skipped: skipped}
	roads, err := hillRoads(ctx, cat, d)
	if err != nil {
		return nil, err
	}
	var passes []catalog.DrivePass
	for i := range d.list {
		list := passesOver(&d.list[i], roads)
		if len(list) == 0 {
			out.Skipped = append(out.Skipped, routes.Skipped{Where: d.list[i].file, Why: fmt.Sprintf("it passes over no hill of the catalogue for %.0f m: nothing of it is kept", grade.DriveLeastM)})
			continue
		}
		for k := range list {
			list[k].Number, list[k].Label = int64(len(out.Drives)), o.Label
		}
		passes = append(passes, list...)
		out.Drives = append(out.Drives, ImportedDrive{File: d.list[i].file})
	}
	kept, isNew, err := cat.AddDrives(ctx, passes, o.By)
	if err != nil {
		return nil, err
	}
	touched := map[string]bool{}
	for i, p := range kept {
		one := &out.Drives[passes[i].Number]
		one.Number, one.Passes, one.KeptM = p.Number, one.Passes+1, one.KeptM+p.ToM-p.FromM
		if isNew[i] {
			one.New++
			touched[p.Route] = true
		}
	}
	for route := range touched {
		more, err := questionByDrives(ctx, cat, route, o.By)
		if err != nil {
			return nil, err
		}
		out.Question = append(out.Question, more...)
	}
	slices.SortFunc(out.Question, func(a, b store.Question) int { return cmp.Compare(a.ID, b.ID) })
	return out, nil
}

// hillRoad is a stretch of a road for which the catalogue has a grade line.
type hillRoad struct {
	route    string
	stationM []float64
	points   []orb.Point
	line     *recorded.Line
	box      orb.Bound
}

// hillRoads joins the stored grade lines near the drives to stretches of their roads.
func hillRoads(ctx context.Context, cat *store.Catalog, d *Drives) ([]hillRoad, error) {
	if len(d.list) == 0 {
		return nil, nil
	}
	box := d.list[0].box
	for i := range d.list {
		box = box.Union(d.list[i].box)
	}
	box = box.Pad(hillBoxPadDeg)
	es, err := cat.Descents(ctx, store.Filter{NoHolds: true, WithRetired: true, BBox: &store.Box{WestDeg: box.Min[0], SouthDeg: box.Min[1], EastDeg: box.Max[0], NorthDeg: box.Max[1]}})
	if err != nil {
		return nil, err
	}
	at := map[string]map[float64]orb.Point{}
	for i := range es {
		p, err := cat.Profile(ctx, es[i].Descent.ID)
		if errors.Is(err, catalog.ErrNotFound) {
			continue
		}
		if err != nil {
			return nil, err
		}
		route := es[i].Descent.Route
		if at[route] == nil {
			at[route] = map[float64]orb.Point{}
		}
		for k, pt := range p.Points {
			if s := p.StationM(k); s >= 0 {
				at[route][math.Min(math.Round(s*10)/10, p.LengthM)] = pt
			}
		}
	}
	var out []hillRoad
	for route, points := range at {
		out = append(out, stretchesOf(route, points)...)
	}
	slices.SortFunc(out, func(a, b hillRoad) int {
		return cmp.Or(cmp.Compare(a.route, b.route), cmp.Compare(a.stationM[0], b.stationM[0]))
	})
	return out, nil
}

const (
	hillBoxPadDeg = 0.03 // the grade line reaches 2 km beyond a hill
	hillGapM      = 100  // a longer gap between stations ends a stretch
)

// stretchesOf cuts the stations of a road where there is a gap.
func stretchesOf(route string, points map[float64]orb.Point) (out []hillRoad) {
	var stations []float64
	for s := range points {
		stations = append(stations, s)
	}
	slices.Sort(stations)
	for from := 0; from < len(stations); {
		to := from + 1
		for to < len(stations) && stations[to]-stations[to-1] <= hillGapM {
			to++
		}
		r := hillRoad{route: route, stationM: stations[from:to]}
		for _, s := range r.stationM {
			r.points = append(r.points, points[s])
		}
		if line, ok := recorded.NewLine(r.points, r.stationM, r.points[len(r.points)/2]); ok {
			r.line, r.box = line, orb.MultiPoint(r.points).Bound().Pad(driveBoxPadDeg)
			out = append(out, r)
		}
		from = to
	}
	return out
}

// passesOver lays a drive on the hills, and keeps of each pass what the grade line needs.
func passesOver(one *readDrive, roads []hillRoad) (out []catalog.DrivePass) {
	for i := range roads {
		r := &roads[i]
		if !one.box.Intersects(r.box) {
			continue
		}
		var near []routes.Fix
		for k := range one.fixes {
			if f := &one.fixes[k]; r.box.Contains(orb.Point{f.LonDeg, f.LatDeg}) {
				near = append(near, f.fix())
			}
		}
		on, _ := r.line.Lay(near)
		list, rising := recorded.Passes(on)
		for k, places := range list {
			p := catalog.DrivePass{Route: r.route, FromM: math.Inf(1), ToM: math.Inf(-1)}
			if !rising[k] {
				p.Direction = routes.Backward
			}
			for _, at := range places {
				if at.DistanceM < r.stationM[0] || at.DistanceM > r.stationM[len(r.stationM)-1] {
					continue // up to a metre past an end of the line, which is no station
				}
				p.Fixes = append(p.Fixes, r.keptFix(at, places[0].Fix.At))
				p.FromM, p.ToM = min(p.FromM, at.DistanceM), max(p.ToM, at.DistanceM)
			}
			if p.ToM-p.FromM >= grade.DriveLeastM {
				out = append(out, p)
			}
		}
	}
	return out
}

// keptFix replaces the recorded place by the road's, and the moment by the seconds of the pass.
func (r *hillRoad) keptFix(at recorded.Place, start time.Time) catalog.DriveFix {
	k, _ := slices.BinarySearch(r.stationM, at.DistanceM)
	k = max(1, min(k, len(r.stationM)-1))
	a, b := r.points[k-1], r.points[k]
	t := max(0, min(1, (at.DistanceM-r.stationM[k-1])/(r.stationM[k]-r.stationM[k-1])))
	f := catalog.DriveFix{StationM: at.DistanceM, LonDeg: a[0] + t*(b[0]-a[0]), LatDeg: a[1] + t*(b[1]-a[1]), HeightM: at.Fix.HeightM, TimeS: at.Fix.At.Sub(start).Seconds(), SpeedMPS: at.Fix.SpeedMPS}
	east := math.Cos(f.LatDeg * math.Pi / 180)
	cross := (b[0]-a[0])*(at.Fix.LatDeg-f.LatDeg) - (b[1]-a[1])*(at.Fix.LonDeg-f.LonDeg)
	f.OffM = math.Copysign(at.OffM, -cross*east) // left of travel is positive in the cross product
	return f
}

// addKept adds the passes that a catalogue keeps. A recording that is kept and named again counts
// once: the named one is left out.
func (d *Drives) addKept(passes []catalog.DrivePass) (skipped []routes.Skipped) {
	var kept []readDrive
	known := newSameDrives()
	for i := range passes {
		p := &passes[i]
		one := readDrive{file: fmt.Sprintf("drive %d", p.Number) + keptDriveEnd, box: orb.Bound{Min: orb.Point{180, 90}, Max: orb.Point{-180, -90}}}
		for k := range p.Fixes {
			f := &p.Fixes[k]
			one.fixes = append(one.fixes, newDriveFix(&routes.Fix{At: time.Unix(0, int64(f.TimeS*1e9)), LonDeg: f.LonDeg, LatDeg: f.LatDeg, HeightM: f.HeightM, SpeedMPS: f.SpeedMPS}, false))
			one.box = one.box.Extend(orb.Point{f.LonDeg, f.LatDeg})
		}
		known.add(one.fixes, one.file)
		kept = append(kept, one)
	}
	for _, one := range d.list {
		if as := known.find(one.fixes); as != "" {
			skipped = append(skipped, routes.Skipped{Where: one.file, Why: "it is used once, as " + as})
			continue
		}
		kept = append(kept, one)
	}
	d.list = kept
	return skipped
}

// readKept adds the drives of a catalogue that is there.
func (d *Drives) readKept(ctx context.Context, cat *store.Catalog) (skipped []routes.Skipped, err error) {
	passes, err := cat.Drives(ctx, "", true)
	if err != nil || len(passes) == 0 {
		return nil, err
	}
	skipped = d.addKept(passes)
	d.sum = stampOf(d.list)
	return skipped, nil
}
