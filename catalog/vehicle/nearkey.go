package vehicle

import (
	"fmt"
	"reflect"
	"strings"

	"github.com/xrash/smetrics"
)

// keysByOtherNames are keys by what data sheets and drivers call them.
var keysByOtherNames = map[string]string{
	"stages": "stage_share_pct", "steps": "stage_share_pct", "stage_shares": "stage_share_pct", "positions": "stage_share_pct",
	"power": "power_kw_by_rpm or power_hp_by_rpm", "power_kw": "power_kw_by_rpm", "power_hp": "power_hp_by_rpm", "power_w": "power_w_by_rpm", "braking_power": "power_kw_by_rpm or power_hp_by_rpm",
	"torque": "torque_limit", "max_torque": "torque_limit", "torque_nm": "torque_limit_nm", "continuous_power": "sustained_power", "cooling_power": "sustained_power",
	"axle_ratio": "final_drive", "rear_axle_ratio": "final_drive", "drive_ratio": "final_drive", "diff_ratio": "final_drive",
	"gears": "gear_ratios", "ratios": "gear_ratios", "transmission_ratios": "gear_ratios", "wheel_radius": "rolling_radius", "wheel_radius_m": "rolling_radius_m", "revs_per_mile": "tyre_revs_per_mi", "revs_per_km": "tyre_revs_per_km",
	"gvw": "mass_max", "gcw": "mass_max", "gcwr": "mass_max", "gvwr": "mass_max", "gross_weight": "mass_max", "weight_max": "mass_max", "max_mass": "mass_max",
	"tare": "mass_min", "tare_weight": "mass_min", "empty_weight": "mass_min", "weight_min": "mass_min", "min_mass": "mass_min", "unladen": "mass_min",
	"governed_rpm": "engine_rpm_max", "max_rpm": "engine_rpm_max", "rpm_max": "engine_rpm_max", "rpm_min": "engine_rpm_min", "min_rpm": "engine_rpm_min",
	"displacement": "engine_displacement", "battery_kwh": "battery", "battery_capacity": "battery", "soc": "charge_at_crest_pct", "charge": "charge_at_crest_pct", "charge_pct": "charge_at_crest_pct",
	"weight": "load", "axle_weight": "load", "tare_load": "empty", "tank": "part_full_tank", "max_speed": "speed_max", "speed_limit": "speed_max", "stroke": "adjusted_stroke",
}

// nearKey is ` (did you mean "…"?)` for the key of the same table that was probably meant: by another
// name that is known, by a letter or two, or by its beginning. Empty where there is none.
func nearKey(path []string) string {
	table := reflect.TypeFor[fileTOML]()
	for _, name := range path[:len(path)-1] {
		next := fieldOfKey(table, name)
		for next != nil && (next.Kind() == reflect.Slice || next.Kind() == reflect.Pointer) {
			next = next.Elem()
		}
		if next == nil || next.Kind() != reflect.Struct {
			return ""
		}
		table = next
	}
	wrong, best, alike := path[len(path)-1], "", 0
	if other, isKnown := keysByOtherNames[strings.ToLower(wrong)]; isKnown && fieldOfKey(table, strings.Fields(other)[0]) != nil {
		return fmt.Sprintf(" (did you mean %s?)", strings.ReplaceAll(`"`+other+`"`, " or ", `" or "`))
	}
	for i := range table.NumField() {
		key := table.Field(i).Tag.Get("toml")
		n := commonStart(wrong, key)
		isNear := 2*n > max(len(wrong), len(key)) || isMistyped(wrong, key)
		if isNear {
			n += len(key) // over a key that only begins alike
		}
		if n > alike && isNear {
			best, alike = key, n
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf(" (did you mean %q?)", best)
}

// quantityKey is the key that takes a text with its unit in place of a key that ends in the unit;
// empty for a key without one.
func quantityKey(key string) string {
	end := strings.LastIndexByte(key, '_')
	if end < 0 {
		return ""
	}
	for _, table := range []reflect.Type{reflect.TypeFor[classTOML](), reflect.TypeFor[truckTOML](), reflect.TypeFor[axleTOML](), reflect.TypeFor[retarderTOML](), reflect.TypeFor[brakesTOML]()} {
		if fieldOfKey(table, key) != nil && fieldOfKey(table, key[:end]) != nil {
			return key[:end]
		}
	}
	return ""
}

// isQuantityKey reports whether a key takes a text with its unit.
func isQuantityKey(key string) bool {
	for _, table := range []reflect.Type{reflect.TypeFor[classTOML](), reflect.TypeFor[truckTOML](), reflect.TypeFor[axleTOML](), reflect.TypeFor[retarderTOML](), reflect.TypeFor[brakesTOML]()} {
		for i := range table.NumField() {
			if quantityKey(table.Field(i).Tag.Get("toml")) == key {
				return true
			}
		}
	}
	return false
}

// isMistyped reports whether a key with at most two letters added, removed or changed is the word.
func isMistyped(word, key string) bool {
	const most = 2
	if len(word) <= 4 || max(len(word)-len(key), len(key)-len(word)) > most {
		return false
	}
	return smetrics.WagnerFischer(strings.ToLower(word), key, 1, 1, 1) <= most
}

func fieldOfKey(table reflect.Type, key string) reflect.Type {
	for i := range table.NumField() {
		if table.Field(i).Tag.Get("toml") == key {
			return table.Field(i).Type
		}
	}
	return nil
}

func commonStart(a, b string) int {
	n := 0
	for n < min(len(a), len(b)) && strings.EqualFold(a[n:n+1], b[n:n+1]) {
		n++
	}
	return n
}
