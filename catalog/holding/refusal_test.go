package holding

import (
	"errors"
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
)

// Each question that cannot be answered is refused with its reason.
func TestRefusals(t *testing.T) {
	c := mustClass(t, "us-5axle")
	nan := math.NaN()
	hot := 80.0
	high := 9000.0
	broken := c
	broken.Truck.GearRatios = []float64{1, 2}
	for _, k := range []struct {
		name string
		h    Hill
		c    vehicle.Class
		o    Options
		want string
	}{
		{"too steep", PlainHill(26, 1000), c, Options{}, "advice goes to 25 %"},
		{"mass above the class", PlainHill(6, 1000), c, Options{MassKg: 40000}, "above the class"},
		{"no mass", PlainHill(6, 1000), c, Options{MassKg: -5}, "not a possible mass"},
		{"mass NaN", PlainHill(6, 1000), c, Options{MassKg: nan}, "not a possible mass"},
		{"no length", PlainHill(6, 0), c, Options{}, "distances don't increase"},
		{"gap", Hill{StationM: []float64{0, 100, 200}, DowngradePct: []float64{6, nan}}, c, Options{}, "gap"},
		{"no bound", Hill{StationM: []float64{0, 100}, DowngradePct: []float64{6}, LocalErrPct: math.Inf(1)}, c, Options{}, "no error bound"},
		{"empty", Hill{}, c, Options{}, "don't match"},
		{"reserve", PlainHill(6, 1000), c, Options{ReservePct: 1}, "reserve"},
		{"air", PlainHill(6, 1000), c, Options{TempC: &hot}, "air"},
		{"altitude", PlainHill(6, 1000), c, Options{AltitudeM: &high}, "altitude"},
		{"sight", PlainHill(6, 1000), c, Options{SightM: -1}, "sight"},
		{"feet as metres", Hill{StationM: []float64{0, 100}, DowngradePct: []float64{6}, ElevationM: []float64{9000, 8994}}, c, Options{}, "vertical unit"},
		{"impossible ratios", PlainHill(6, 1000), broken, Options{}, "is not below"},
		{"posted zero", WithPosted(PlainHill(6, 1000), 0), c, Options{}, "posted limit"},
	} {
		_, err := Advise(k.h, k.c, k.o)
		if err == nil || !strings.Contains(err.Error(), k.want) {
			t.Errorf("%s: %v", k.name, err)
			continue
		}
		if !errors.Is(err, catalog.ErrImpossible) && !errors.Is(err, catalog.ErrClass) {
			t.Errorf("%s: no kind: %v", k.name, err)
		}
	}
	at := Hill{StationM: []float64{0, 300, 600}, DowngradePct: []float64{6, nan}, StartM: 5000, Direction: routes.Backward}
	if _, err := Advise(at, c, Options{}); err == nil || !strings.Contains(err.Error(), "station 4700 m") {
		t.Errorf("the gap's station: %v", err)
	}
}
