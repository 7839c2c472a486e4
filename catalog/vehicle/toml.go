package vehicle

import (
	"bytes"
	_ "embed" // the template
	"errors"
	"fmt"
	"io"

	"github.com/pelletier/go-toml/v2"

	"gradeline/catalog"
)

// The class file as TOML holds it. Pointers tell what is left out from what is zero.
type fileTOML struct {
	Class []classTOML `toml:"class"`
}

type classTOML struct {
	ID            *string      `toml:"id"`
	Name          *string      `toml:"name"`
	Units         *string      `toml:"units"`
	MassMinKg     *float64     `toml:"mass_min_kg"`
	MassMaxKg     *float64     `toml:"mass_max_kg"`
	SpeedMaxMPS   *float64     `toml:"speed_max_mps"`
	RolloverShare *float64     `toml:"rollover_share"`
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
	TyreRevsPerMi        *float64       `toml:"tyre_revs_per_mi"`
	TyreSize             *string        `toml:"tyre_size"`
	DrivelineEfficiency  *float64       `toml:"driveline_efficiency"`
	EngineMinRPM         *float64       `toml:"engine_rpm_min"`
	EngineMaxRPM         *float64       `toml:"engine_rpm_max"`
	RollingResistance    *float64       `toml:"rolling_resistance"`
	DragAreaM2           *float64       `toml:"drag_area_m2"`
	ReservePct           *float64       `toml:"reserve_pct"`
	AltitudeFullM        *float64       `toml:"altitude_full_m"`
	AltitudeLossPctPerKM *float64       `toml:"altitude_loss_pct_per_km"`
	Axles                []axleTOML     `toml:"axle"`
	Retarders            []retarderTOML `toml:"retarder"`
	ServiceBrakes        *brakesTOML    `toml:"service_brakes"`
}

type axleTOML struct {
	Name     string   `toml:"name"`
	Axles    *int     `toml:"axles"`
	LoadKg   *float64 `toml:"load_kg"`
	EmptyKg  *float64 `toml:"empty_kg"`
	Driven   bool     `toml:"driven"`
	Retarded *bool    `toml:"retarded"`
	Brakes   *int     `toml:"brakes"`
	Rolling  *float64 `toml:"rolling_resistance"`
}

type retarderTOML struct {
	Kind            string        `toml:"kind"`
	Name            string        `toml:"name"`
	PowerWByRPM     [][]float64   `toml:"power_w_by_rpm"`
	StageSharePct   []float64     `toml:"stage_share_pct"`
	Stages          [][][]float64 `toml:"stages_power_w_by_rpm"`
	TorqueLimitNm   *float64      `toml:"torque_limit_nm"`
	SustainedPowerW *float64      `toml:"sustained_power_w"`
	CoolingTempC    *float64      `toml:"cooling_temp_c"`
	StrongestPct    *float64      `toml:"strongest_pct"`
}

type brakesTOML struct {
	Kind            *string  `toml:"kind"`
	DiscDiameterM   *float64 `toml:"disc_diameter_m"`
	DiscMassKg      *float64 `toml:"disc_mass_kg"`
	Chamber         *string  `toml:"chamber"`
	AdjustedStrokeM *float64 `toml:"adjusted_stroke_m"`
	DrumDiameterM   *float64 `toml:"drum_diameter_m"`
	DrumMassKg      *float64 `toml:"drum_mass_kg"`
	PoorLining      *bool    `toml:"poor_lining"`
}

// Faults are all that is wrong with one class file, in the order of its lines.
type Faults []*catalog.Fault

// Error is the first fault on one line, with how many more there are.
func (f Faults) Error() string {
	if len(f) == 1 {
		return f[0].Error()
	}
	return fmt.Sprintf("%s (and %d more)", f[0].Error(), len(f)-1)
}

// Unwrap gives every fault.
func (f Faults) Unwrap() []error {
	errs := make([]error, len(f))
	for i, x := range f {
		errs[i] = x
	}
	return errs
}

// ParseClasses reads a class file in TOML. It returns the classes and every
// figure that the file left out with the default used for it. An unknown key,
// a wrong type or an impossible figure is a fault; the error is then a Faults
// that holds each with its line, and no class is returned. At most 1 MiB, 200
// classes; counts of gears, axles and curve points are capped.
func ParseClasses(name string, r io.Reader) ([]Class, []Default, error) {
	raw, err := io.ReadAll(io.LimitReader(r, mostBytes+1))
	if err != nil {
		return nil, nil, &catalog.Fault{Kind: catalog.ErrClass, File: name, What: "cannot be read", Err: err, Fix: "check the file"}
	}
	if len(raw) > mostBytes {
		return nil, nil, &catalog.Fault{Kind: catalog.ErrClass, File: name, What: "longer than 1 MiB", Fix: "give a file of weight classes"}
	}
	rep := &reporter{file: name, lines: linesByKey(raw)}
	var file fileTOML
	err = toml.NewDecoder(bytes.NewReader(raw)).DisallowUnknownFields().Decode(&file)
	var strict *toml.StrictMissingError
	var decode *toml.DecodeError
	switch {
	case errors.As(err, &strict):
		for _, e := range strict.Errors {
			row, _ := e.Position()
			rep.faultAt(row, fmt.Sprintf("%q is no key of a class file", keyText(e.Key())), "see `gradeline classes template` for the keys")
		}
	case errors.As(err, &decode):
		row, _ := decode.Position()
		what := decode.Error()
		if key := keyText(decode.Key()); key != "" {
			what = key + ": " + what
		}
		rep.faultAt(row, what, "mend the TOML")
		return nil, nil, rep.faults
	case err != nil:
		rep.faultAt(0, err.Error(), "mend the TOML")
		return nil, nil, rep.faults
	}
	if len(file.Class) == 0 && len(rep.faults) == 0 {
		rep.faultAt(1, "holds no class", "add a [[class]]; `gradeline classes template` shows one")
	}
	if len(file.Class) > mostClasses {
		rep.faultAt(0, fmt.Sprintf("holds %d classes", len(file.Class)), fmt.Sprintf("keep to %d", mostClasses))
		return nil, nil, rep.faults
	}
	var classes []Class
	var defaults []Default
	seen := map[string]bool{}
	for i := range file.Class {
		rep.class = i
		c := classFromTOML(&file.Class[i], rep)
		if seen[c.ID] && c.ID != "" {
			rep.key("id", fmt.Sprintf("the id %q is used twice", c.ID), "give each class its own")
		}
		seen[c.ID] = true
		classes = append(classes, c)
		defaults = append(defaults, c.Defaults...)
	}
	if len(rep.faults) > 0 {
		rep.sort()
		return nil, nil, rep.faults
	}
	return classes, defaults, nil
}

//go:embed template.toml
var template string

// Template is a commented class file that parses, for a carrier to fill in.
func Template() string { return template }
