package survey

import (
	"context"
	"math"

	"gradeline/routes"
	"gradeline/routes/grade"
	"gradeline/routes/stationing"
)

// AloneWords say what a survey without terrain rests on.
const AloneWords = "without terrain the grade lines are those of the recorded drives alone: their bounds are two to three times as wide, mostly by the air's temperature, and heights above the sea are known to 300 m only"

// aloneStepM is the spacing of stations where no cell size sets it.
const aloneStepM = 10.0

// oneFromDrives surveys a route from recorded drives alone, without terrain.
func oneFromDrives(ctx context.Context, r *routes.Route, o Options) Result {
	res := Result{Route: *r}
	ground, err := stationing.WithoutGround(ctx, r, aloneStepM)
	if err != nil {
		res.Err = err
		return res
	}
	res.Stations = ground.Count()
	p := &routes.Profile{StepM: ground.StepM, LengthM: ground.LengthM, Points: ground.Points, RadiusM: ground.RadiusM, Structures: ground.Structures, ElevationM: make([]float64, ground.Count())}
	for i := range p.ElevationM {
		p.ElevationM[i] = math.NaN()
	}
	var passes []grade.Drive
	if o.Drives != nil {
		res.Drives, passes = o.Drives.onRoad(p)
	}
	q, fits, err := grade.FromDrives(ctx, p, passes)
	for i, f := range fits {
		res.Drives[i].setFit(&f)
	}
	if err != nil {
		res.Err = placed(err, r)
		return res
	}
	q.Noise = routes.Noise{}
	res.describe(q, r, o)
	return res
}

// setFit notes what became of a drive.
func (u *DriveUse) setFit(f *grade.DriveFit) {
	u.IsUsed, u.Why, u.FromM, u.ToM, u.MisfitRMSM = f.IsUsed, f.Why, f.FromM, f.ToM, f.MisfitRMSM
	u.HasAirTemp, u.AirWhy = f.HasAirTemp && f.IsUsed, f.AirWhy
}
