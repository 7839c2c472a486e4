// Package specimen is one invented road with a descent on it, for the tests and examples of the
// packages that draw, list and print descents. All its figures are invented.
package specimen

import (
	"math"
	"time"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/routes"
)

// Stations is the length of the sample profile in steps of 10 m.
const Stations = 1001

// Profile is an invented road of 10 km: level, then down with a bench, a
// bridge, a void, and a curve. All its figures are invented.
func Profile() *routes.Profile {
	p := &routes.Profile{
		StepM: 10, LengthM: 10000, CellM: 10, Reliable: true,
		Noise:      routes.Noise{SigmaM: 0.8, TauM: 30},
		Bound:      routes.ErrorModel{EndM: 60, ElevationM: 1.2, FloorPct: 0.05, SpanM: []float64{100, 1000}, SpanPct: []float64{1.1, 0.2}},
		Structures: []routes.Structure{{Kind: routes.Bridge, FromM: 5200, ToM: 5450, Flagged: true}},
	}
	h, lon, lat := 1880.0, -110.0, 44.0
	for i := range Stations {
		s := float64(i) * 10
		g := 0.0
		switch {
		case s < 1500:
			g = 0.5
		case s < 3200:
			g = -6.2
		case s < 3700:
			g = -1.4 // the bench
		case s < 6500:
			g = -7.4 - 0.9*math.Sin((s-3700)/400)
		case s < 8000:
			g = -5.5
		}
		heading := 0.6 * math.Sin(s/900)
		p.ElevationM = append(p.ElevationM, h)
		wobble := 0.9*math.Sin(s/37) + 0.6*math.Sin(s/11.3)
		state := routes.Measured
		ground := h + wobble
		switch {
		case s >= 5200 && s <= 5450:
			state, ground = routes.OnBridge, h-25*math.Sin((s-5200)/250*math.Pi)+wobble
		case s >= 7000 && s < 7120:
			state, ground = routes.InVoid, math.NaN()
		}
		p.State = append(p.State, state)
		p.GroundM = append(p.GroundM, ground)
		p.Points = append(p.Points, orb.Point{lon, lat})
		p.RadiusM = append(p.RadiusM, 900/math.Max(1e-3, math.Abs(math.Cos(s/900))))
		h += g / 10
		lon += 10 * math.Cos(heading) / 80000
		lat += 10 * math.Sin(heading) / 111000
	}
	return p
}

func ptr[T any](v T) *T { return &v }

// Entry is the descent on Profile in one direction of travel, with three classes: one that holds,
// one that does not, one that is unknown.
func Entry(dir routes.Direction) catalog.Entry {
	p := Profile()
	d := routes.Descent{
		ID: "harrow-1f", Route: "harrow", Name: "Harrow Hill Road", Direction: routes.Forward,
		StartM: 1500, EndM: 8000, StartErrM: 60, EndErrM: 60, LengthM: 6500, DropM: p.ElevationM[150] - p.ElevationM[800],
		MeanDowngradeErrPct: 0.2, Steepest100Pct: 8.3, Steepest500Pct: 8.1, Steepest1000Pct: 7.9,
		Steepest100AtM: 5900, Steepest500AtM: 5800, Steepest1000AtM: 5500,
		CrestElevationM: p.ElevationM[150], FootElevationM: p.ElevationM[800],
		TightestRadiusM: ptr(210.0), TightestRadiusAtM: ptr(4400.0), InterpolatedM: 370,
		Benches: []routes.Bench{{StartM: 3200, EndM: 3700, LengthM: 500, MeanDowngradePct: 1.4}},
	}
	d.MeanDowngradePct = 100 * d.DropM / d.LengthM
	d.CrestLonDeg, d.CrestLatDeg = p.Points[150][0], p.Points[150][1]
	d.FootLonDeg, d.FootLatDeg = p.Points[800][0], p.Points[800][1]
	e := catalog.Entry{
		Descent: d,
		Review:  catalog.Review{State: catalog.Surveyed},
		Provenance: catalog.Provenance{
			Tool: "gradeline 0.1", At: time.Date(2026, 11, 25, 9, 30, 0, 0, time.UTC),
			Rasters: []string{"harrow.tif, EPSG:32612, 10 m, metres, sha256 5f0c…"}, RouteFile: "harrow.geojson",
			VertDatum: "NAVD88", CellM: 10, NoiseM: 0.8, Rules: "core 3 %, relief 12 m, mean 4 % over 800 m", Invented: true,
		},
		Holds: []catalog.Hold{
			{
				Class: "us-5axle", MassKg: 36287.4, Holds: true, Gear: 6, Ratio: 4.1, Stage: 3, SpeedMPS: 27 * catalog.MilePerHourMPS, EngineRPM: 1930,
				RetarderUsePct: 84, LimitedBy: catalog.LimitRetarder, HeaviestMassKg: 41200, FrictionNeeded: 0.21,
				GearByM: 1400, TimeS: 590, OneGearUp: "In gear 7 the retarder is past its reserve at 32 mph, 2.6 mi below the crest.",
				SurfacesOut: []string{"snow", "ice"}, DemandPowerW: 262000, AvailablePowerW: 290000, ReservePct: 15,
				GearName: "6", Levers: []catalog.Lever{{Retarder: "compression brake", Kind: "engine", Stage: 3, Stages: 3}},
				SpeedLowMPS: 22 * catalog.MilePerHourMPS, MassLightKg: 15000, FrictionApplied: 0.27,
				Surfaces: []catalog.SurfaceAnswer{
					{Surface: "dry", Allowed: true, FrictionApplied: 0.27, FrictionAllowed: 0.40},
					{Surface: "wet", Allowed: true, FrictionApplied: 0.27, FrictionAllowed: 0.28},
					{Surface: "packed snow", FrictionApplied: 0.27, FrictionAllowed: 0.12},
					{Surface: "ice", FrictionApplied: 0.27, FrictionAllowed: 0.05},
				},
				RecoverySpeedMPS: ptr(31 * catalog.MilePerHourMPS), SlowFromM: 1150, ApproachSpeedMPS: 55 * catalog.MilePerHourMPS,
				Stretches: []catalog.HoldStretch{
					{FromM: 1500, ToM: 3200, Gear: 6, GearName: "6", Levers: []catalog.Lever{{Retarder: "compression brake", Kind: "engine", Stage: 3, Stages: 3}}, SpeedMPS: 27 * catalog.MilePerHourMPS, LimitedBy: catalog.LimitRetarder},
					{FromM: 3200, ToM: 3700, Gear: 6, GearName: "6", Levers: []catalog.Lever{{Retarder: "compression brake", Kind: "engine", Stage: 1, Stages: 3}}, SpeedMPS: 27 * catalog.MilePerHourMPS, LimitedBy: catalog.LimitRetarder},
					{FromM: 3700, ToM: 6500, Gear: 6, GearName: "6", Levers: []catalog.Lever{{Retarder: "compression brake", Kind: "engine", Stage: 3, Stages: 3}}, SpeedMPS: 27 * catalog.MilePerHourMPS, LimitedBy: catalog.LimitRetarder},
					{FromM: 6500, ToM: 8000, Gear: 6, GearName: "6", Levers: []catalog.Lever{{Retarder: "compression brake", Kind: "engine", Stage: 2, Stages: 3}}, SpeedMPS: 30 * catalog.MilePerHourMPS, LimitedBy: catalog.LimitEngineSpeed},
				},
				Sensitivity: []catalog.Sensitivity{{Change: "half the retarder", Holds: true, Gear: 4, SpeedMPS: 15 * catalog.MilePerHourMPS}},
				Cautions:    []string{"Rolling resistance and drag taken at their low ends."},
				Words:       catalog.Words{US: "Gear 6 on stage 3 holds 27 mph; the retarder is the limit.", Metric: "Gear 6 on stage 3 holds 43 km/h; the retarder is the limit."},
			},
			{
				Class: "bc-btrain", MassKg: 63500, LimitedBy: catalog.LimitNothing, HeaviestMassKg: 52300, MissingPowerW: 61000,
				FrictionNeeded: 0.27, ServiceBrakeTempC: ptr(312.0), ReservePct: 15, DemandPowerW: 410000, AvailablePowerW: 349000,
			},
		},
	}
	for i := 150; i <= 800; i += 5 {
		e.Line = append(e.Line, catalog.Vertex{LonDeg: p.Points[i][0], LatDeg: p.Points[i][1], ElevationM: p.ElevationM[i], StationM: float64(i) * 10})
	}
	if dir == routes.Backward { // the same road drawn from the other end
		e.Descent.ID, e.Descent.Direction = "harrow-1b", routes.Backward
		flip := func(s float64) float64 { return 10000 - s }
		e.Descent.StartM, e.Descent.EndM = flip(1500), flip(8000)
		e.Descent.Steepest100AtM, e.Descent.Steepest500AtM, e.Descent.Steepest1000AtM = flip(5900), flip(5800), flip(5500)
		e.Descent.TightestRadiusAtM = ptr(flip(4400))
		e.Descent.Benches = []routes.Bench{{StartM: flip(3200), EndM: flip(3700), LengthM: 500, MeanDowngradePct: 1.4}}
		h := &e.Holds[0]
		h.GearByM, h.SlowFromM = flip(h.GearByM), flip(h.SlowFromM)
		for i := range h.Stretches {
			h.Stretches[i].FromM, h.Stretches[i].ToM = flip(h.Stretches[i].FromM), flip(h.Stretches[i].ToM)
		}
		for i := range e.Line {
			e.Line[i].StationM = flip(e.Line[i].StationM)
		}
	}
	return e
}

// Flipped is Profile with its line drawn from the other end.
func Flipped(p *routes.Profile) *routes.Profile {
	q := *p
	q.ElevationM, q.GroundM, q.State, q.Points = nil, nil, nil, nil
	for i := p.Count() - 1; i >= 0; i-- {
		q.ElevationM, q.GroundM = append(q.ElevationM, p.ElevationM[i]), append(q.GroundM, p.GroundM[i])
		q.State, q.Points = append(q.State, p.State[i]), append(q.Points, p.Points[i])
	}
	q.Structures = nil
	for _, s := range p.Structures {
		q.Structures = append(q.Structures, routes.Structure{Kind: s.Kind, FromM: p.LengthM - s.ToM, ToM: p.LengthM - s.FromM, Flagged: s.Flagged})
	}
	return &q
}

// Entries are of several kinds: Entry, a short steep one that is not reliable, and one with a
// hostile name.
func Entries() []catalog.Entry {
	a, b, c := Entry(routes.Forward), Entry(routes.Forward), Entry(routes.Forward)
	b.Descent.ID, b.Descent.Name, b.Descent.Flags = "cinder-2f", "Cinder Gap", []string{routes.FlagUnreliable, routes.FlagBorderline}
	b.Descent.MeanDowngradePct, b.Descent.DropM, b.Descent.LengthM = 4.3, 55, 1280
	c.Descent.ID, c.Descent.Name = "hostile-3f", HostileName
	c.Review = catalog.Review{State: catalog.Approved, By: "R. Vane", At: time.Date(2026, 11, 20, 0, 0, 0, 0, time.UTC), InQuestion: "class figures changed"}
	c.Holds = c.Holds[1:]
	shift := func(e *catalog.Entry, dLat float64) {
		e.Line = append([]catalog.Vertex(nil), e.Line...)
		for i := range e.Line {
			e.Line[i].LatDeg += dLat
		}
		e.Descent.CrestLatDeg += dLat
		e.Descent.FootLatDeg += dLat
	}
	shift(&b, 0.02)
	shift(&c, -0.02)
	return []catalog.Entry{a, b, c}
}

// HostileName holds markup, a formula, a control character and characters that
// turn the direction of writing.
const HostileName = "=cmd()<script>alert(1)</script>\u202Egnp\u0007 \"Åsen\""

// WithParts is Entry with a steep part, a bench with the means around it, outer bounds of its ends,
// and bounds of its steepest parts.
func WithParts() catalog.Entry {
	e := Entry(routes.Forward)
	d := &e.Descent
	d.Steepest100ErrPct, d.Steepest500ErrPct, d.Steepest1000ErrPct = 2.33, 1.04, 0.7
	d.StartOuterM, d.EndOuterM = 1310, 8240
	d.SteepParts = []routes.SteepPart{{StartM: 5000, EndM: 5400, LengthM: 400, MeanDowngradePct: 9.3, MeanDowngradeErrPct: 1.13}}
	d.PossibleSteepM = 200
	d.Benches = []routes.Bench{{StartM: 3200, EndM: 3700, LengthM: 500, MeanDowngradePct: 1.4, MeanDowngradeErrPct: 0.5,
		BeforeMeanPct: 6.2, BeforeErrPct: 0.3, AfterMeanPct: 7.1, AfterErrPct: 0.2}}
	return e
}
