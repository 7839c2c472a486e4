package vehicle

// ClassView is a class as `classes list --json` publishes it: the figures that advice uses, at
// their unsafe ends, so that the advice can be worked out again.
//
// With v the speed, n = v/rolling_radius_m·ratio·final_drive·60/2π the engine
// speed, and η = driveline_efficiency, a retarder takes from the wheels
//
//	engine:    power_w_by_rpm at n, times 1 + ½·(1 − η), times the altitude share
//	driveline: min(torque_limit_nm · v/rolling_radius_m · final_drive, sustained_power_w · cooling)
//
// where only half of the driveline's losses is counted as help, and the altitude
// share is 1 up to altitude_full_m and falls by altitude_loss_pct_per_km above
// it. Between points of the curve the lower of a straight line in power and one
// in torque holds; the default curves have a point each 100 rpm, where the two
// differ by under 0.2 %. Cooling is the standard atmosphere's pressure at the hill's highest
// place over that at sea level, times n/cooling_rpm below that engine speed, and less in air
// hotter than cooling_temp_c. The sum less reserve_pct must not be under the demand
// m·g·(sin θ − rolling_resistance·cos θ) − ½·ρ·drag_area_m2·v², times v.
type ClassView struct {
	ID                   string         `json:"id"`
	Name                 string         `json:"name"`
	Units                string         `json:"units"`
	MassMinKg            float64        `json:"mass_min_kg"`
	MassMaxKg            float64        `json:"mass_max_kg"`
	GearRatios           []float64      `json:"gear_ratios"`
	GearNames            []string       `json:"gear_names"`
	FinalDrive           float64        `json:"final_drive"`
	RollingRadiusM       float64        `json:"rolling_radius_m"`
	DrivelineEfficiency  float64        `json:"driveline_efficiency"`
	EngineMinRPM         float64        `json:"engine_rpm_min"`
	EngineMaxRPM         float64        `json:"engine_rpm_max"`
	RollingResistance    float64        `json:"rolling_resistance"`
	DragAreaM2           float64        `json:"drag_area_m2"`
	ReservePct           float64        `json:"reserve_pct"`
	Retarders            []RetarderView `json:"retarders"`
	EngineDragWByRPM     [][2]float64   `json:"engine_drag_w_by_rpm,omitempty"` // counted without an engine brake
	AltitudeFullM        float64        `json:"altitude_full_m"`
	AltitudeLossPctPerKM float64        `json:"altitude_loss_pct_per_km"`
	SpeedMaxMPS          float64        `json:"speed_max_mps"`
	RolloverShare        float64        `json:"rollover_share"`
	PartFullTank         bool           `json:"part_full_tank,omitempty"`
	SurgeShare           float64        `json:"surge_share,omitempty"` // what a part-full tank leaves of rollover_share
	HeightM              float64        `json:"height_m,omitempty"`    // what road signs limit, and the power for climbs
	LengthM              float64        `json:"length_m,omitempty"`
	AxleLoadKg           float64        `json:"axle_load_kg,omitempty"`
	Hazmat               bool           `json:"hazmat,omitempty"`
	EnginePowerW         float64        `json:"engine_power_w,omitempty"`
	RetardedShare        float64        `json:"retarded_axles_share"`
	Axles                []AxleView     `json:"axles"`
	ServiceBrakes        BrakesView     `json:"service_brakes"`
	Sources              []FigureSource `json:"sources"`
	Defaults             []string       `json:"defaults_used"`
}

// AxleView is one axle group.
type AxleView struct {
	Name     string  `json:"name"`
	Axles    int     `json:"axles"`
	LoadKg   float64 `json:"load_kg"`
	EmptyKg  float64 `json:"empty_kg"`
	Driven   bool    `json:"driven"`
	Retarded bool    `json:"retarded"`
	Brakes   int     `json:"brakes"`
}

// BrakesView are the service brakes.
type BrakesView struct {
	Count           int     `json:"count"`
	Kind            string  `json:"kind"`
	DiscDiameterM   float64 `json:"disc_diameter_m,omitempty"`
	DiscMassKg      float64 `json:"disc_mass_kg,omitempty"`
	Chamber         string  `json:"chamber,omitempty"`
	AdjustedStrokeM float64 `json:"adjusted_stroke_m,omitempty"`
	DrumDiameterM   float64 `json:"drum_diameter_m,omitempty"`
	DrumMassKg      float64 `json:"drum_mass_kg,omitempty"`
	PoorLining      bool    `json:"poor_lining"`
}

// RetarderView is one retarder; PowerWByRPM is an engine brake's top stage.
type RetarderView struct {
	Kind            string         `json:"kind"`
	Name            string         `json:"name"`
	PowerWByRPM     [][2]float64   `json:"power_w_by_rpm,omitempty"`
	TorqueLimitNm   float64        `json:"torque_limit_nm,omitempty"`
	SustainedPowerW float64        `json:"sustained_power_w,omitempty"`
	CoolingTempC    float64        `json:"cooling_temp_c,omitempty"`
	CoolingRPM      float64        `json:"cooling_rpm,omitempty"`
	Stages          int            `json:"stages"`
	StagesPowerW    [][][2]float64 `json:"stages_power_w_by_rpm,omitempty"` // engine: weakest first
	StageSharePct   []float64      `json:"stage_share_pct,omitempty"`
	StrongestPct    float64        `json:"strongest_pct"`
	BatteryWh       float64        `json:"battery_wh,omitempty"` // recuperation
	ChargeCrestPct  float64        `json:"charge_at_crest_pct,omitempty"`
	ChargeFullPct   float64        `json:"charge_full_pct,omitempty"`
}

// View returns the class as published.
func (c Class) View() ClassView {
	t := c.Truck
	v := ClassView{
		ID: c.ID, Name: c.Name, MassMinKg: c.MassMinKg, MassMaxKg: c.MassMaxKg,
		GearRatios: append([]float64{}, t.GearRatios...), FinalDrive: t.FinalDrive,
		RollingRadiusM: t.RollingRadiusM, DrivelineEfficiency: t.DrivelineEfficiency,
		EngineMinRPM: t.EngineMinRPM, EngineMaxRPM: t.EngineMaxRPM,
		RollingResistance: t.RollingResistance, DragAreaM2: t.DragAreaM2, ReservePct: t.ReservePct,
		Units: c.Units.String(), GearNames: []string{}, RolloverShare: c.RolloverShare, PartFullTank: c.PartFullTank, SurgeShare: c.SurgeShare, Axles: []AxleView{},
		ServiceBrakes: BrakesView(t.ServiceBrakes),
		Retarders:     []RetarderView{}, AltitudeFullM: t.AltitudeFullM, AltitudeLossPctPerKM: t.AltitudeLossPctPerKM,
		SpeedMaxMPS: c.SpeedMaxMPS, RetardedShare: t.RetardedLoadKg(c.MassMaxKg) / c.MassMaxKg, Defaults: []string{},
		HeightM: c.HeightM, LengthM: c.LengthM, AxleLoadKg: c.AxleLoadKg, Hazmat: c.IsHazmat, EnginePowerW: t.EnginePowerW,
		Sources: []FigureSource{{"mass_max_kg", c.Legal.Document, c.Legal.Status}},
	}
	v.Sources = append(v.Sources, c.Sources...)
	for _, d := range c.Defaults {
		v.Defaults = append(v.Defaults, d.String())
	}
	for g := range t.GearRatios {
		v.GearNames = append(v.GearNames, t.GearName(g+1))
	}
	for _, a := range t.Axles {
		v.Axles = append(v.Axles, AxleView(a))
	}
	for _, p := range t.EngineDrag {
		v.EngineDragWByRPM = append(v.EngineDragWByRPM, [2]float64{p.RPM, p.PowerW})
	}
	for i := range t.Retarders {
		v.Retarders = append(v.Retarders, t.Retarders[i].view())
	}
	return v
}

// String is the default in one line: the value and its source.
func (d Default) String() string {
	return d.Figure + " = " + d.Value + " (" + d.Status + ": " + d.Source + ")"
}

func (r *Retarder) view() RetarderView {
	out := RetarderView{Kind: string(r.Kind), Name: r.label(), TorqueLimitNm: r.TorqueLimitNm, SustainedPowerW: r.SustainedPowerW, CoolingTempC: r.CoolingTempC, CoolingRPM: r.CoolingRPM,
		Stages: len(r.StageSharePct), StageSharePct: r.StageSharePct, StrongestPct: max(100, r.StrongestPct),
		BatteryWh: r.Battery.CapacityWh, ChargeCrestPct: r.Battery.CrestPct, ChargeFullPct: r.Battery.FullPct}
	if r.Kind != EngineRetarder {
		return out
	}
	out.Stages = len(r.Stages)
	for _, c := range r.Stages {
		points := [][2]float64{}
		for _, p := range c {
			points = append(points, [2]float64{p.RPM, p.PowerW})
		}
		out.StagesPowerW, out.PowerWByRPM = append(out.StagesPowerW, points), points
	}
	return out
}
