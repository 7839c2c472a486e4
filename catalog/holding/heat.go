package holding

import (
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

const (
	heatStations = 24
	pieceM       = 100.0
	mostPieces   = 400
	snubMPS      = 5 * catalog.MilePerHourMPS // the trade's snub: 5 mph down, then let the speed rise again
)

// stopCeiling is the speed from which cool service brakes can make their emergency stop
// without passing the rating system's limit; for two stops in succession where the foot
// needs a stop too.
func (p *problem) stopCeiling(massKg float64) catalog.SpeedCeiling {
	g := p.heatModel
	brakes := p.truck.ServiceBrakes.Count
	if p.v.brakeShare > 0 {
		brakes = int(float64(brakes) * p.v.brakeShare) // a fraction of a brake does not count
	}
	out := catalog.SpeedCeiling{Reason: catalog.LimitStopping, Note: "one emergency stop takes cool service brakes to 500 °F (260 °C); constants from memory"}
	stops := 1
	if p.opt.StopAtFoot || p.hill.FootStop {
		stops = 2
		out.Reason, out.Note = catalog.LimitFoot, "the stop at the foot and an emergency stop take cool service brakes to 500 °F (260 °C); constants from memory"
	}
	out.SpeedMPS = g.StopSpeedMPH(massKg/catalog.PoundKg, stops, brakes) * catalog.MilePerHourMPS
	out.StationM = p.hill.RouteStationM(p.hill.LengthM())
	return out
}

// heat follows the service brakes down the hill, by the grade-severity model and by a
// drum's heat balance: if the hill is held, as if the retarders were off and the
// service brakes held the advised speed; if not, as if they did what the retarders
// can't.
func (p *problem) heat(out *catalog.Hold, gear int, v float64) {
	g := p.heatModel
	b := p.truck.ServiceBrakes
	drum := b.Balance()
	engineW := p.ownDragW()
	facts := &catalog.HeatCase{IsRest: !out.Holds, IsElectric: p.truck.IsElectric(), SpeedMPS: v, WorkingToC: b.WorkingToC(), FadeFromC: b.FadeFromC()}
	w := vehicle.WheelPower{}
	if !out.Holds {
		w = p.wheelPower(gear, v)
	}
	V := v / catalog.MilePerHourMPS
	W := p.massKg / catalog.PoundKg
	startC, airC := catalog.CFromF(g.StartTempF), catalog.CFromF(g.AirTempF)
	if hotC := p.slope.hotC; hotC != nil {
		airC = *hotC
	}
	tempF, balanceC := g.StartTempF, startC
	pieces, length := p.slope.heatPieces()
	n := len(pieces)
	every := max(1, n/heatStations)
	peakC, workingM, fadeM, mostW := math.Inf(-1), math.NaN(), math.NaN(), 0.0
	air, nextF := p.airflowAt(v), g.TempsF(V, length/catalog.MileM, b.Count)
	for i := range pieces {
		f := pieces[i].force(p.v.gradePct, p.truck)
		demandW := (p.massKg*f.pullMPS2 - air.dragN(&f)) * v
		helpW := engineW
		if !out.Holds {
			helpW = (1 - p.reserve) * w.AtW(f.engineShare)
			if out.LimitedBy == catalog.LimitFriction {
				helpW = min(helpW, vehicle.AllowedFriction(0)*p.retardedLoadKg(p.massKg)*vehicle.GravityMPS2*f.cos*v)
			}
		}
		hp := max(0, g.BrakeHP(W, (f.gradePct+g.LowDragPct)/100, V, helpW/vehicle.HorsepowerW))
		tempF = nextF(tempF, hp)
		balanceC = drum.TempC(balanceC, airC, max(0, demandW-helpW)/float64(b.Count), v, length/v)
		hotC := max(catalog.CFromF(tempF), balanceC)
		peakC = max(peakC, hotC)
		mostW = max(mostW, demandW-helpW)
		if at := float64(i+1) * length; hotC > b.WorkingToC() && math.IsNaN(workingM) {
			workingM = at
		}
		if at := float64(i+1) * length; hotC >= b.FadeFromC() && math.IsNaN(fadeM) {
			fadeM = at
		}
		if (i+1)%every == 0 || i == n-1 {
			c := b.ChainAt(hotC, startC)
			out.Heat = append(out.Heat, catalog.HeatStation{
				StationM: math.Round(p.hill.RouteStationM(float64(i+1)*length)*10) / 10,
				TempC:    upTo(catalog.CFromF(tempF), 10), BalanceC: upTo(balanceC, 10), StrokeM: upTo(c.StrokeM, 1e5), ForceShare: math.Floor(c.LeftShare*1e4) / 1e4,
			})
		}
	}
	if !out.Holds {
		out.ServiceBrakeTempC = &peakC
	}
	if !math.IsNaN(workingM) {
		facts.WorkingM = &workingM
	}
	if !math.IsNaN(fadeM) {
		facts.FadeM = &fadeM
	}
	if snub := drum.SnubOf(p.massKg, v, min(snubMPS, v/2), mostW, b.Count); snub.PeriodS > 0 {
		facts.SnubMPS, facts.SnubRiseC, facts.SnubEveryS = min(snubMPS, v/2), snub.RiseC, snub.PeriodS
	}
	out.HeatFacts, out.HeatCase = facts, facts.Words(p.units)
}

// upTo rounds up to so many parts of one: what is kept of each station needs no digits
// below 0.1 degrees, 10 micrometres and 0.1 per mille, and leaves them off on the unsafe
// side.
func upTo(v, parts float64) float64 { return math.Ceil(v*parts) / parts }

// spansEven cuts a hill into n pieces of even length, each with its mean
// downgrade and the bound of the whole hill's mean.
func spansEven(h *Hill, n int, altitudeM float64) []span {
	out := make([]span, n)
	total := h.LengthM()
	k, drop, begin, beginDrop := 0, 0.0, 0.0, 0.0
	for i := range out {
		end := total * float64(i+1) / float64(n)
		for k < len(h.DowngradePct)-1 && h.StationM[k+1] < end {
			drop += h.DowngradePct[k] / 100 * (h.StationM[k+1] - h.StationM[k])
			k++
		}
		endDrop := drop + h.DowngradePct[k]/100*(end-h.StationM[k])
		s := span{pct: 100 * (endDrop - beginDrop) / (end - begin), errPct: h.GradeErrPct, beginM: begin, highM: altitudeM}
		if h.ElevationM != nil {
			s.highM = h.ElevationM[0] - min(beginDrop, endDrop)
		}
		out[i] = s
		begin, beginDrop = end, endDrop
	}
	return out
}
