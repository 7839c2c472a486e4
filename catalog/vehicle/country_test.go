package vehicle

import (
	"strings"
	"testing"

	"gradeline/catalog"
)

// withoutBrakes is the template without its service brakes, its country replaced.
func withoutBrakes(t *testing.T, country string) string {
	t.Helper()
	text := edit(t, "country = \"US\"", country)
	from, to := strings.Index(text, "[class.truck.service_brakes]"), strings.Index(text, "# Where the figures come from")
	if from < 0 || to < from {
		t.Fatal("the template has no service brakes")
	}
	return text[:from] + text[to:]
}

// A class of a European country has disc brakes unless it says otherwise; any other, and
// one whose country is not known, has drums. Which were taken is said, with why.
func TestServiceBrakesByCountry(t *testing.T) {
	for _, c := range []struct{ country, kind, said string }{
		{`country = "DE"`, DiscBrakes, "truck.service_brakes.kind = disc (from memory: the usual kind in DE)"},
		{`country = "eu"`, DiscBrakes, "the usual kind in EU"},
		{`country = "UK"`, DiscBrakes, "the usual kind in GB"},
		{`country = "US"`, DrumBrakes, "truck.service_brakes.kind = drum (from memory: the usual kind outside Europe)"},
		{`country = "XK"`, DrumBrakes, "the usual kind outside Europe"},
		{"", DrumBrakes, "truck.service_brakes.kind = drum (default: the class's country is not given"},
	} {
		classes, defaults, err := ParseClasses("trucks.toml", strings.NewReader(withoutBrakes(t, c.country)))
		if err != nil {
			t.Fatal(c.country, err)
		}
		k := classes[0].Truck.ServiceBrakes
		var said []string
		for _, d := range defaults {
			said = append(said, d.String())
		}
		all := strings.Join(said, "\n")
		if k.Kind != c.kind || !strings.Contains(all, c.said) {
			t.Errorf("%q: %s\n%s", c.country, k.Kind, all)
		}
		if isDisc := c.kind == DiscBrakes; isDisc != (k.DiscMassKg > 0) || isDisc == (k.DrumMassKg > 0) || isDisc == (k.Chamber != "") {
			t.Errorf("%q: %+v", c.country, k)
		}
	}
}

// The keys that are given say which kind it is.
func TestServiceBrakesByTheirKeys(t *testing.T) {
	for table, kind := range map[string]string{
		"disc_mass = \"30 kg\"": DiscBrakes, "chamber = \"30L\"": DrumBrakes, "kind = \"disc\"": DiscBrakes, "poor_lining = false": DrumBrakes,
	} {
		text := withoutBrakes(t, "") + "\n[class.truck.service_brakes]\n" + table + "\n"
		classes, _, err := ParseClasses("trucks.toml", strings.NewReader(text))
		if err != nil || classes[0].Truck.ServiceBrakes.Kind != kind {
			t.Errorf("%s: %v, want %s", table, err, kind)
		}
	}
	_, _, err := ParseClasses("trucks.toml", strings.NewReader(edit(t, `country = "US"`, `country = "Germany"`)))
	if err == nil || !strings.Contains(err.Error(), `our-5axle country: "Germany" is not a country; use its two letters`) {
		t.Error(err)
	}
}

// Without its own units a class of the United States has those of its country.
func TestUnitsByCountry(t *testing.T) {
	for country, want := range map[string]catalog.Units{"US": catalog.US, "CA": catalog.Metric, "GB": catalog.Metric} {
		text := strings.Replace(edit(t, `country = "US"`, `country = "`+country+`"`), `units = "us" `, "# ", 1)
		classes, _, err := ParseClasses("trucks.toml", strings.NewReader(text))
		if err != nil || classes[0].Units != want {
			t.Errorf("%s: %v", country, err)
		}
	}
}
