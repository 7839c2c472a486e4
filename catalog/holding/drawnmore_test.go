package holding

import (
	"context"
	"flag"
	"math"
	"time"

	"gradeline/routes"
	"gradeline/routes/grade"
	"gradeline/routes/recorded"
	"gradeline/terrain"
	"gradeline/terrain/synth"
)

var (
	drawnDrives   = flag.Int("drawn.drives", 0, "recorded drives over each drawn road, in alternating directions")
	drawnMissions = flag.Int("drawn.missions", 1, "rasters of each drawn road, each with noise, grid and voids of its own, that are averaged")
)

// withDrives adds drawn drives to a grade line, laid on the line as a survey lays them.
func withDrives(ctx context.Context, p *routes.Profile, road *synth.Road) (*routes.Profile, error) {
	if *drawnDrives == 0 {
		return p, nil
	}
	stations := make([]float64, p.Count())
	for i := range stations {
		stations[i] = p.StationM(i)
	}
	line, _ := recorded.NewLine(p.Points, stations, p.Points[len(p.Points)/2])
	var drives []grade.Drive
	for k := range *drawnDrives {
		var fixes []routes.Fix
		for _, f := range road.Drive(synth.OrdinaryRecorder, k) {
			fixes = append(fixes, routes.Fix{At: time.Unix(0, int64(f.TimeS*1e9)), LonDeg: f.LonDeg, LatDeg: f.LatDeg, SpeedMPS: f.SpeedMPS, HeightM: f.HeightM})
		}
		on, _ := line.Lay(fixes)
		passes, rising := recorded.Passes(on)
		for i, pass := range passes {
			d := grade.Drive{IsBackward: !rising[i]}
			for _, at := range pass {
				d.StationM, d.HeightM, d.SpeedMPS = append(d.StationM, at.DistanceM), append(d.HeightM, at.Fix.HeightM), append(d.SpeedMPS, at.Fix.SpeedMPS)
			}
			drives = append(drives, d)
		}
	}
	fused, _, err := grade.Fuse(ctx, p, drives)
	return fused, err
}

// missions is the mean of several rasters of one ground, where they have heights.
type missions []terrain.Surface

// missionsOf draws a road's raster, or several.
func missionsOf(road *synth.Road, o synth.Options) (missions, error) {
	var out missions
	for m := range max(1, *drawnMissions) {
		o.Mission = uint8(m)
		r := road
		if m > 0 {
			var err error
			if r, err = synth.NewRoad(o); err != nil {
				return nil, err
			}
		}
		grid, err := r.Grid(o.CellM)
		if err != nil {
			return nil, err
		}
		out = append(out, r.Surface(grid))
	}
	return out, nil
}

// Sample is terrain.Surface's.
func (m missions) Sample(ctx context.Context, points []terrain.Point, out []terrain.Sample) error {
	if err := m[0].Sample(ctx, points, out); err != nil {
		return err
	}
	count := make([]float64, len(out))
	for i := range out {
		if !math.IsNaN(out[i].ElevationM) {
			count[i] = 1
		}
	}
	more := make([]terrain.Sample, len(points))
	for _, s := range m[1:] {
		if err := s.Sample(ctx, points, more); err != nil {
			return err
		}
		for i, x := range more {
			switch {
			case math.IsNaN(x.ElevationM):
			case count[i] == 0:
				out[i], count[i] = x, 1
			default:
				count[i]++
				out[i].ElevationM += (x.ElevationM - out[i].ElevationM) / count[i]
			}
		}
	}
	return nil
}

// Sources is terrain.Surface's.
func (m missions) Sources() []terrain.Raster { return m[0].Sources() }

// Warnings is terrain.Surface's.
func (m missions) Warnings() []string { return nil }
