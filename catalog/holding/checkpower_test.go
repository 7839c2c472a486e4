package holding

import (
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// A data sheet's horsepower under the key for kilowatts is a third too strong, and is remarked on.
func TestCheckRemarksOnHorsepowerWrittenAsKilowatts(t *testing.T) {
	const sheet = "[[1100, 300], [1500, 450], [2100, 600]]" // hp
	for key, isRemarked := range map[string]bool{"power_hp_by_rpm": false, "power_kw_by_rpm": true} {
		text := vehicle.Template(catalog.US)
		old := text[strings.Index(text, "\npower_hp_by_rpm")+1:]
		old = old[:strings.Index(old, "\n")]
		classes, _, err := vehicle.ParseClasses("trucks.toml", strings.NewReader(strings.Replace(text, old, key+" = "+sheet, 1)))
		if err != nil {
			t.Fatal(key, err)
		}
		found, err := Check(classes, catalog.US)
		if err != nil {
			t.Fatal(key, err)
		}
		said := false
		for _, f := range found {
			said = said || strings.Contains(f.Remark, "600 kW at 2100 rpm") && strings.Contains(f.Remark, "horsepower written as kilowatts")
		}
		if said != isRemarked {
			t.Errorf("%s: remarked on: %v", key, said)
		}
	}
}
