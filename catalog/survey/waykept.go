package survey

import (
	"context"

	"gradeline/catalog/ranking"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/descent"
)

// masksOf are each class's hills on a road by itself, without their continuation along other roads,
// since a way may leave the road there.
func masksOf(r *Result, o *Options) []store.Mask {
	if r.Profile == nil {
		return nil
	}
	var out []store.Mask
	marks := o.classMarks
	if len(marks) != len(o.Classes) {
		marks = classMarks(o.Classes, o.Weather)
	}
	for i := range o.Classes {
		c := &o.Classes[i]
		m := store.Mask{Class: c.ID, ClassSHA256: marks[i], MassKg: o.MassKg, Stretches: []store.MaskStretch{}}
		if m.MassKg == 0 {
			m.MassKg = c.MassMaxKg
		}
		for k := range r.Entries {
			m.Stretches = append(m.Stretches, maskStretch(r, k, c, m.MassKg))
		}
		out = append(out, m)
	}
	return out
}

func maskStretch(r *Result, k int, c *vehicle.Class, massKg float64) store.MaskStretch {
	e := &r.Entries[k]
	s := store.MaskStretch{Direction: e.Descent.Direction, FromM: e.Descent.StartM, ToM: e.Descent.EndM, SurfacesOut: []string{}}
	for i := range e.Holds {
		if h := &e.Holds[i]; h.Class == c.ID {
			s.Held, s.HeaviestMassKg, s.TopSpeedMPS, s.RetarderUsePct = h.Holds, h.HeaviestMassKg, h.SpeedMPS, h.RetarderUsePct
			s.SurfacesOut = append(s.SurfacesOut, h.SurfacesOut...)
			s.LostS = ranking.LostS(r.Profile, r.Route.Limits, e, c, massKg)
		}
	}
	return s
}

// networkSource is where the network of the job comes from.
func (j *Job) networkSource() store.NetworkSource {
	n := j.roads.Network()
	return store.NetworkSource{Files: networkFiles(&j.setup), Extracts: n.Extracts, Turns: n.Turns()}
}

// saveNetworkRoad keeps a surveyed road of a joined network for ways to be found.
func (j *Job) saveNetworkRoad(ctx context.Context, r *Result) error {
	if j.batch == nil || r.prepared.road == nil {
		return nil
	}
	return j.batch.SaveNetworkRoad(ctx, j.networkSource(), r.prepared.road)
}

// finishNetwork keeps what of a joined network is not surveyed on its own, and what a
// search of it needs at once.
func (j *Job) finishNetwork(ctx context.Context) error {
	if j.batch == nil {
		return nil
	}
	kept := j.roads.Network().Kept()
	if len(kept) == 0 {
		return j.compareWithEarlier(ctx)
	}
	if err := j.batch.FinishNetwork(ctx, j.networkSource(), kept); err != nil {
		return err
	}
	if err := j.compareWithEarlier(ctx); err != nil {
		return err
	}
	return saveNetworkParts(ctx, j.batch, j.setup.Classes, j.setup.MassKg, j.setup.Weather)
}

// describe finds the descents of a profile and what the classes meet on them.
func (res *Result) describe(p *routes.Profile, r *routes.Route, o Options) {
	res.Profile = p
	directions := []routes.Direction{routes.Forward, routes.Backward}
	if o.forwardOnly {
		directions = directions[:1]
	}
	for _, dir := range directions {
		found := descent.FindAll(p, dir, o.Descent)
		for _, d := range found.Descents {
			res.Entries = append(res.Entries, res.entry(p, r, d, o))
		}
		for _, d := range found.Near {
			d.Route = r.ID
			res.Near = append(res.Near, d)
		}
		for _, k := range found.SteepParts {
			res.SteepParts = append(res.SteepParts, res.steepPart(p, r, k, &o))
		}
		res.PossibleSteepM += found.PossibleSteepM
	}
}
