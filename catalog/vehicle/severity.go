package vehicle

import (
	"fmt"
	"io"
	"math"

	"github.com/pelletier/go-toml/v2"

	"gradeline/catalog"
)

// GradeSeverity is the heat model of the grade-severity rating system. Symbols
// as in its reports: V speed in mph, W weight in lb, θ grade as a share, L
// length in mi, T in °F, HP in horsepower.
type GradeSeverity struct {
	Source string `toml:"source"`
	Status string `toml:"status"`

	K1BasePerH            float64 `toml:"k1_base_per_h"`
	K1SlopePerMi          float64 `toml:"k1_slope_per_mi"`
	K2BaseHPPerF          float64 `toml:"k2_base_hp_per_f"`
	K2SlopeHPPerFPerMPH   float64 `toml:"k2_slope_hp_per_f_per_mph"`
	DragBaseLb            float64 `toml:"drag_base_lb"`
	DragSlopeLbPerMPHMPH  float64 `toml:"drag_slope_lb_per_mph_mph"`
	StopSlopeFPerLbPerMPH float64 `toml:"stop_slope_f_per_lb_per_mph_mph"`
	EngineDragHP          float64 `toml:"engine_drag_hp"`
	StartTempF            float64 `toml:"start_temp_f"`
	AirTempF              float64 `toml:"air_temp_f"`
	LimitTempF            float64 `toml:"limit_temp_f"`
	Brakes                int     `toml:"brakes"`
	LowDragPct            float64 `toml:"low_drag_pct"`
}

// ParseGradeSeverity reads the constants; every one must be there.
func ParseGradeSeverity(name string, r io.Reader) (GradeSeverity, error) {
	var g GradeSeverity
	bad := func(what string, err error) (GradeSeverity, error) {
		return GradeSeverity{}, &catalog.Fault{Kind: catalog.ErrClass, File: name, What: what, Err: err, Fix: "restore the file"}
	}
	if err := toml.NewDecoder(io.LimitReader(r, mostBytes)).DisallowUnknownFields().Decode(&g); err != nil {
		return bad("not the constants of the heat model", err)
	}
	for _, v := range []float64{g.K1BasePerH, g.K1SlopePerMi, g.K2BaseHPPerF, g.K2SlopeHPPerFPerMPH, g.DragBaseLb,
		g.DragSlopeLbPerMPHMPH, g.StopSlopeFPerLbPerMPH, g.EngineDragHP, g.StartTempF, g.AirTempF, g.LimitTempF, float64(g.Brakes), g.LowDragPct} {
		if !(v > 0 && v < 1e4) {
			return bad(fmt.Sprintf("a constant is %g or missing", v), nil)
		}
	}
	if g.Source == "" || g.Status == "" {
		return bad("the constants carry no source", nil)
	}
	return g, nil
}

// BrakeHP is the power of the service brakes: (W·θ − F_drag)·V/375 − HP_eng.
func (g *GradeSeverity) BrakeHP(weightLb, downgradeShare, speedMPH, engineHP float64) float64 {
	W, theta, V := weightLb, downgradeShare, speedMPH
	return (W*theta-g.DragBaseLb-g.DragSlopeLbPerMPHMPH*V*V)*V/375 - engineHP
}

// TempF is the service brakes' temperature after a stretch of even grade: T_f = T_0 +
// (T_∞ − T_0 + K₂·HP_B)·(1 − e^(−K₁·L/V)). If the number of brakes differs from that of
// the constants, the power is scaled in proportion (our own extension).
func (g *GradeSeverity) TempF(startTempF, brakeHP, speedMPH, lengthMi float64, brakes int) float64 {
	return g.TempsF(speedMPH, lengthMi, brakes)(startTempF, brakeHP)
}

// TempsF is TempF for many stretches of one length at one speed.
func (g *GradeSeverity) TempsF(speedMPH, lengthMi float64, brakes int) func(startTempF, brakeHP float64) float64 {
	V := speedMPH
	K1 := g.K1BasePerH + g.K1SlopePerMi*V
	K2 := 1 / (g.K2BaseHPPerF + g.K2SlopeHPPerFPerMPH*V) * float64(g.Brakes) / float64(brakes)
	share := -math.Expm1(-K1 * lengthMi / V)
	return func(startTempF, brakeHP float64) float64 {
		return startTempF + (g.AirTempF-startTempF+K2*brakeHP)*share
	}
}

// StopF is the rise of one emergency stop: T_E = 3.11·10⁻⁷·W·V², shared among
// the brakes as in TempF.
func (g *GradeSeverity) StopF(weightLb, speedMPH float64, brakes int) float64 {
	return g.StopSlopeFPerLbPerMPH * weightLb * speedMPH * speedMPH * float64(g.Brakes) / float64(brakes)
}

// StopSpeedMPH is the speed from which a number of emergency stops in succession take cool service
// brakes exactly to the limit.
func (g *GradeSeverity) StopSpeedMPH(weightLb float64, stops, brakes int) float64 {
	return math.Sqrt((g.LimitTempF - g.StartTempF) / (float64(stops) * g.StopF(weightLb, 1, brakes)))
}

// SteadySpeedMPH is the highest speed at which the service brakes, with only the
// engine's own drag to help, reach the limit less one emergency stop by the foot
// of an even grade: the rating system's control speed. 0 if there is none from
// 1 mph up.
func (g *GradeSeverity) SteadySpeedMPH(weightLb, downgradeShare, lengthMi float64, brakes int) float64 {
	fits := func(V float64) bool {
		hp := max(0, g.BrakeHP(weightLb, downgradeShare, V, g.EngineDragHP))
		return g.TempF(g.StartTempF, hp, V, lengthMi, brakes)+g.StopF(weightLb, V, brakes) <= g.LimitTempF
	}
	best := 0.0
	for V := 1.0; V <= 100; V += 0.25 {
		if !fits(V) {
			break
		}
		best = V
	}
	return best
}
