package vehicle

import (
	"fmt"
	"strings"

	"gradeline/catalog"
)

// hasDiscBrakes are the countries whose tractors and trailers usually have disc brakes: the
// European Union, the rest of the European Economic Area, Switzerland and the United Kingdom (from
// memory: their makers have fitted discs since about 2000). EU stands for any of them.
var hasDiscBrakes = countrySet("EU AT BE BG CY CZ DE DK EE ES FI FR GR HR HU IE IT LT LU LV MT NL PL PT RO SE SI SK IS LI NO CH GB")

func countrySet(codes string) map[string]bool {
	out := map[string]bool{}
	for _, c := range strings.Fields(codes) {
		out[c] = true
	}
	return out
}

// otherCodes are what people write for a country beside its code of ISO 3166-1.
var otherCodes = map[string]string{"UK": "GB", "EL": "GR", "USA": "US"}

// country is the code of the class's country in capitals; empty where the file has none.
func (b builder) country(v *string) string {
	if v == nil {
		return ""
	}
	code := strings.ToUpper(*v)
	if c, isOther := otherCodes[code]; isOther {
		code = c
	}
	if len(code) != 2 || strings.Trim(code, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != "" {
		b.rep.fault("country", fmt.Sprintf("%q is not a country", *v), `use its two letters, as "US" or "DE", or "EU"`)
		return ""
	}
	return code
}

// units reads the unit in which advice is rounded; left out, it is that of the class's country.
func (b builder) units(v *string, country string) catalog.Units {
	if v == nil {
		if country == "US" {
			b.note("units", "us", "speeds in mph, as the country has them", "default")
			return catalog.US
		}
		b.note("units", "metric", "speeds in km/h", "default")
		return catalog.Metric
	}
	u, err := catalog.ParseUnits(*v)
	if err != nil {
		b.rep.fault("units", fmt.Sprintf("%q is not a unit system", *v), `use "us" or "metric"`)
	}
	return u
}

// CommonUnits are the units of all classes where they agree; metric where they don't.
func CommonUnits(classes []Class) catalog.Units {
	for i := range classes {
		if classes[i].Units != catalog.US {
			return catalog.Metric
		}
	}
	return catalog.US
}
