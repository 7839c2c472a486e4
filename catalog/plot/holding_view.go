package plot

import (
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
)

// HoldingViewFor makes the holding chart of an entry and a class. It has the demand on the mean
// downgrade and on the steepest 500 m, each with its bound added and the thin air of the crest. It
// also has the power that every gear can hold at the top stage, less the reserve, with an engine
// brake's loss at that elevation.
func HoldingViewFor(e *catalog.Entry, c *vehicle.Class) HoldingView {
	a, h, _ := wording.AnswerFor(e, c.ID)
	d, t := &e.Descent, &c.Truck
	v := HoldingView{Title: wording.Title(d) + ", " + wording.Heading(d), Class: c.Name, MassKg: c.MassMaxKg, ReservePct: t.ReservePct, Answer: a,
		Invented: e.Provenance.Invented, Caption: []string{wording.ReviewLine(e), wording.SourceLine(e.Provenance), catalog.Cautions()[0]}}
	if v.Class == "" {
		v.Class = c.ID
	}
	if h != nil {
		v.MassKg = h.MassKg
		if a == wording.Held {
			v.Gear, v.GearName, v.SpeedMPS, v.DemandW = h.Gear, h.GearLabel(), h.SpeedMPS, h.DemandPowerW
			v.Levers = wording.Plain(h.StageWords())
		}
	}
	top := 0.0
	for gear := 1; gear <= t.GearCount(); gear++ {
		g := GearSeries{Gear: gear, Name: t.GearName(gear)}
		const steps = 24
		for k := 0; k <= steps; k++ {
			rpm := t.EngineMinRPM + (t.EngineMaxRPM-t.EngineMinRPM)*float64(k)/steps
			speed := t.SpeedFromRPM(gear, rpm)
			g.SpeedMPS = append(g.SpeedMPS, speed)
			g.PowerW = append(g.PowerW, t.TopWheelPower(gear, speed, vehicle.AirAt(d.CrestElevationM, nil)).AtW(t.EngineShare(d.CrestElevationM))*(1-t.ReservePct/100))
			top = math.Max(top, speed)
		}
		v.Gears = append(v.Gears, g)
	}
	// Road speeds beyond 30 m/s would push the important part into a corner.
	top = math.Min(top, 30)
	rho := vehicle.AirDensityKgM3(d.CrestElevationM, nil)
	bound := math.Max(0, d.MeanDowngradeErrPct)
	if math.IsInf(bound, 0) || math.IsNaN(bound) {
		bound = 0
	}
	demand := func(label string, pct float64) {
		s := Series{Label: label}
		for k := 0; k <= 40; k++ {
			speed := top * float64(k) / 40
			s.SpeedMPS = append(s.SpeedMPS, speed)
			s.PowerW = append(s.PowerW, math.Max(0, speed*vehicle.DemandN(v.MassKg, pct, t.RollingResistance, t.DragAreaM2, rho, speed)))
		}
		v.Demand = append(v.Demand, s)
	}
	demand(fmt.Sprintf("mean downgrade, %s", wording.MeanWithBound(d)), d.MeanDowngradePct+bound)
	if pct, ok := v.hardestPct(t, rho); ok {
		demand(fmt.Sprintf("hardest 100 m (330 ft), its bound added, %.1f %%: the advice holds this", math.Ceil(pct*10-1e-6)/10), pct)
	} else {
		demand(fmt.Sprintf("steepest 500 m (1,600 ft), %s, the mean's bound added", wording.Downgrade(d.Steepest500Pct)), d.Steepest500Pct+bound)
	}
	for i := range v.Gears { // cut off curves beyond the chart
		g := &v.Gears[i]
		n := len(g.SpeedMPS)
		for n > 2 && g.SpeedMPS[n-1] > top+1e-9 {
			n--
		}
		g.SpeedMPS, g.PowerW = g.SpeedMPS[:n], g.PowerW[:n]
	}
	return v
}

// hardestPct is the downgrade whose demand at the advised speed is the hold's: that
// of its hardest stretch, the bound added. False where nothing is advised.
func (v *HoldingView) hardestPct(t *vehicle.Truck, airKgM3 float64) (downgradePct float64, ok bool) {
	if v.Answer != wording.Held || !(v.SpeedMPS > 0) || !(v.DemandW > 0) {
		return 0, false
	}
	lo, hi := 0.0, 100.0
	for range 60 { // demand rises with the downgrade
		mid := (lo + hi) / 2
		if v.SpeedMPS*vehicle.DemandN(v.MassKg, mid, t.RollingResistance, t.DragAreaM2, airKgM3, v.SpeedMPS) < v.DemandW {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi, hi < 99
}
