package vehicle

// The class file in TOML. Pointers distinguish missing keys from zero. A key that ends in its unit
// has a number; the same key without it has a text with the unit in it, such as mass_max = "80000
// lb".
type fileTOML struct {
	Class []classTOML `toml:"class"`
}

type classTOML struct {
	ID            *string      `toml:"id"`
	Name          *string      `toml:"name"`
	Country       *string      `toml:"country"`
	Units         *string      `toml:"units"`
	MassMinKg     *float64     `toml:"mass_min_kg"`
	MassMin       *string      `toml:"mass_min"`
	MassMaxKg     *float64     `toml:"mass_max_kg"`
	MassMax       *string      `toml:"mass_max"`
	SpeedMaxMPS   *float64     `toml:"speed_max_mps"`
	SpeedMax      *string      `toml:"speed_max"`
	RolloverShare *float64     `toml:"rollover_share"`
	PartFullTank  bool         `toml:"part_full_tank"`
	SurgeShare    *float64     `toml:"surge_share"`
	HeightM       *float64     `toml:"height_m"`
	Height        *string      `toml:"height"`
	LengthM       *float64     `toml:"length_m"`
	Length        *string      `toml:"length"`
	AxleLoadKg    *float64     `toml:"axle_load_kg"`
	AxleLoad      *string      `toml:"axle_load"`
	Hazmat        bool         `toml:"hazmat"`
	Legal         *sourceTOML  `toml:"legal"`
	Truck         *truckTOML   `toml:"truck"`
	Sources       []figureTOML `toml:"source"`
}

type sourceTOML struct {
	Text   string `toml:"source"`
	Status string `toml:"status"`
}

type figureTOML struct {
	Figure string `toml:"figure"`
	Text   string `toml:"source"`
	Status string `toml:"status"`
}

type truckTOML struct {
	GearRatios           []float64      `toml:"gear_ratios"`
	GearNames            []string       `toml:"gear_names"`
	FinalDrive           *float64       `toml:"final_drive"`
	RollingRadiusM       *float64       `toml:"rolling_radius_m"`
	RollingRadius        *string        `toml:"rolling_radius"`
	TyreRevsPerMi        *float64       `toml:"tyre_revs_per_mi"`
	TyreRevsPerKM        *float64       `toml:"tyre_revs_per_km"`
	TyreSize             *string        `toml:"tyre_size"`
	DrivelineEfficiency  *float64       `toml:"driveline_efficiency"`
	EngineMinRPM         *float64       `toml:"engine_rpm_min"`
	EngineMaxRPM         *float64       `toml:"engine_rpm_max"`
	EnginePowerW         *float64       `toml:"engine_power_w"`
	EnginePower          *string        `toml:"engine_power"`
	EngineDisplacementL  *float64       `toml:"engine_displacement_l"`
	EngineDisplacement   *string        `toml:"engine_displacement"`
	EngineDragWByRPM     [][]float64    `toml:"engine_drag_w_by_rpm"`
	EngineDragKWByRPM    [][]float64    `toml:"engine_drag_kw_by_rpm"`
	EngineDragHPByRPM    [][]float64    `toml:"engine_drag_hp_by_rpm"`
	RollingResistance    *float64       `toml:"rolling_resistance"`
	DragAreaM2           *float64       `toml:"drag_area_m2"`
	DragArea             *string        `toml:"drag_area"`
	ReservePct           *float64       `toml:"reserve_pct"`
	AltitudeFullM        *float64       `toml:"altitude_full_m"`
	AltitudeFull         *string        `toml:"altitude_full"`
	AltitudeLossPctPerKM *float64       `toml:"altitude_loss_pct_per_km"`
	Axles                []axleTOML     `toml:"axle"`
	Retarders            []retarderTOML `toml:"retarder"`
	ServiceBrakes        *brakesTOML    `toml:"service_brakes"`
}

type axleTOML struct {
	Name     string   `toml:"name"`
	Axles    *int     `toml:"axles"`
	LoadKg   *float64 `toml:"load_kg"`
	Load     *string  `toml:"load"`
	EmptyKg  *float64 `toml:"empty_kg"`
	Empty    *string  `toml:"empty"`
	Driven   bool     `toml:"driven"`
	Retarded *bool    `toml:"retarded"`
	Brakes   *int     `toml:"brakes"`
	Rolling  *float64 `toml:"rolling_resistance"`
}

type retarderTOML struct {
	Kind             string        `toml:"kind"`
	Name             string        `toml:"name"`
	PowerWByRPM      [][]float64   `toml:"power_w_by_rpm"`
	PowerKWByRPM     [][]float64   `toml:"power_kw_by_rpm"`
	PowerHPByRPM     [][]float64   `toml:"power_hp_by_rpm"`
	TorqueNmByRPM    [][]float64   `toml:"torque_nm_by_rpm"`
	TorqueLbftByRPM  [][]float64   `toml:"torque_lbft_by_rpm"`
	StageSharePct    []float64     `toml:"stage_share_pct"`
	StagesW          [][][]float64 `toml:"stages_power_w_by_rpm"`
	StagesKW         [][][]float64 `toml:"stages_power_kw_by_rpm"`
	StagesHP         [][][]float64 `toml:"stages_power_hp_by_rpm"`
	TorqueLimitNm    *float64      `toml:"torque_limit_nm"`
	TorqueLimit      *string       `toml:"torque_limit"`
	SustainedPowerW  *float64      `toml:"sustained_power_w"`
	SustainedPower   *string       `toml:"sustained_power"`
	CoolingTempC     *float64      `toml:"cooling_temp_c"`
	CoolingTemp      *string       `toml:"cooling_temp"`
	CoolingRPM       *float64      `toml:"cooling_rpm"`
	StrongestPct     *float64      `toml:"strongest_pct"`
	BatteryWh        *float64      `toml:"battery_wh"`
	Battery          *string       `toml:"battery"`
	ChargeAtCrestPct *float64      `toml:"charge_at_crest_pct"`
	ChargeFullPct    *float64      `toml:"charge_full_pct"`
}

type brakesTOML struct {
	Kind            *string  `toml:"kind"`
	DiscDiameterM   *float64 `toml:"disc_diameter_m"`
	DiscDiameter    *string  `toml:"disc_diameter"`
	DiscMassKg      *float64 `toml:"disc_mass_kg"`
	DiscMass        *string  `toml:"disc_mass"`
	Chamber         *string  `toml:"chamber"`
	AdjustedStrokeM *float64 `toml:"adjusted_stroke_m"`
	AdjustedStroke  *string  `toml:"adjusted_stroke"`
	DrumDiameterM   *float64 `toml:"drum_diameter_m"`
	DrumDiameter    *string  `toml:"drum_diameter"`
	DrumMassKg      *float64 `toml:"drum_mass_kg"`
	DrumMass        *string  `toml:"drum_mass"`
	PoorLining      *bool    `toml:"poor_lining"`
}
