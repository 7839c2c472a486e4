package serve

import (
	"context"
	"fmt"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/catalog/wording"
)

// addDrives lists the kept drives that were recorded on a hill, and marks them in its profile.
func (s *Server) addDrives(ctx context.Context, v *descentView, e *catalog.Entry, view *plot.ProfileView) error {
	passes, err := s.cat.Drives(ctx, e.Descent.Route, false)
	if err != nil {
		return err
	}
	d := &e.Descent
	lo, hi := min(d.StartM, d.EndM), max(d.StartM, d.EndM)
	for i := range passes {
		p := &passes[i]
		if p.ToM <= lo || p.FromM >= hi {
			continue
		}
		a, b := d.TravelFromStationM(p.FromM), d.TravelFromStationM(p.ToM)
		row := driveRow{Name: fmt.Sprintf("drive %d", p.Number), Way: "down the hill", From: v.Units.Length(max(0, min(a, b))), To: v.Units.Length(min(d.LengthM, max(a, b))), Count: fmt.Sprint(p.Count)}
		if p.Label != "" {
			row.Name = wording.Plain(p.Label)
		}
		if p.Direction != d.Direction {
			row.Way = "up the hill"
		}
		v.Drives = append(v.Drives, row)
		view.DrivesM = append(view.DrivesM, [2]float64{p.FromM, p.ToM})
	}
	return nil
}
