package grade

import (
	"context"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// airDrive is a drive of 400 m of height with the temperatures of a thermometer.
func airDrive(tempC func(heightM float64) float64) *Drive {
	d := &Drive{}
	for i := range 201 {
		h := 600 + 2*float64(i)
		d.StationM, d.HeightM, d.SpeedMPS, d.TempC = append(d.StationM, 20*float64(i)), append(d.HeightM, h), append(d.SpeedMPS, 20), append(d.TempC, tempC(h))
	}
	return d
}

// outsideC is the standard air at a height, by so much warmer.
func outsideC(byK float64) func(float64) float64 {
	return func(h float64) float64 { return 15 + byK - .0065*h }
}

// What air that is warmer than standard does to pressure heights, by the hydrostatic equation in small
// steps and the pressure formula of ISO 2533:1975, against the scale that its temperature tells. The
// weight of the temperature is that of two normal errors: 3 % of weather, 12 K of the thermometer.
func TestTheScaleOfAirIsTheHydrostaticEquations(t *testing.T) {
	pressureHeightM := func(p float64) float64 { // ISO 2533:1975, hPa
		return 288.15 / .0065 * (1 - math.Pow(p/1013.25, 287.05287*.0065/9.80665))
	}
	for _, byK := range []float64{-20, -8, 0, 12, 20} {
		p := 1013.25 * math.Pow(1-.0065*600/288.15, 9.80665/(287.05287*.0065))
		first := pressureHeightM(p)
		d := airDrive(outsideC(byK))
		for i, h := 0, 600.0; h < 1000; h += .1 {
			if h >= 600+2*float64(i) {
				d.HeightM[i] = pressureHeightM(p)
				i++
			}
			p *= math.Exp(-9.80665 * .1 / (287.05287 * (288.15 + byK - .0065*(h+.05))))
		}
		d.HeightM[200] = pressureHeightM(p)
		scale := (d.HeightM[200]-first)/400 - 1
		a, why := airOf(d)
		if !a.isUsed || why != "" {
			t.Fatalf("%+.0f K: %+v, %q", byK, a, why)
		}
		airK := 288.15 + byK - .0065*800
		sensor := 12 / airK
		share := .03 * .03 / (.03*.03 + sensor*sensor)
		if math.Abs(a.scale-share*scale) > 2e-4 {
			t.Errorf("%+.0f K: scale %+.5f, want %.3f of %+.5f", byK, a.scale, share, scale)
		}
		within(t, "sd", a.sd, .03*math.Sqrt(1-share), 1e-3)
	}
}

// What cannot be the air outside is named and leaves the weather unknown, just beyond each limit.
func TestTemperaturesThatAreNotOfTheAir(t *testing.T) {
	lapse := func(perM float64) func(float64) float64 {
		return func(h float64) float64 { return 10 - perM*(h-800) }
	}
	few := airDrive(outsideC(0))
	for i := 29; i < len(few.TempC); i++ {
		few.TempC[i] = math.NaN()
	}
	low := airDrive(outsideC(0))
	for i := range low.HeightM {
		low.HeightM[i] = 600 + .74*float64(i) // 148 m
		low.TempC[i] = outsideC(0)(low.HeightM[i])
	}
	for name, c := range map[string]struct {
		d    *Drive
		says string
	}{
		"a cab at 20 °C":        {airDrive(func(float64) float64 { return 20 }), "cab"},
		"degrees Fahrenheit":    {airDrive(func(h float64) float64 { return 32 + 1.8*outsideC(0)(h) }), "Fahrenheit"},
		"a lapse under 3 K/km":  {airDrive(lapse(.0029)), "cab"},
		"a lapse over 10.5":     {airDrive(lapse(.0108)), "Fahrenheit"},
		"over 25 K too warm":    {airDrive(outsideC(25.8)), "standard atmosphere"},
		"over 25 K too cold":    {airDrive(outsideC(-25.8)), "standard atmosphere"},
		"29 readings":           {few, "too few"},
		"under 150 m of height": {low, "over 149 m of height"},
		"none":                  {airDrive(func(float64) float64 { return math.NaN() }), ""},
		"no column":             {&Drive{HeightM: make([]float64, 40)}, ""},
	} {
		a, why := airOf(c.d)
		if a.isUsed || a.scale != 0 || a.sd != .03 || !strings.Contains(why, c.says) || (why == "") != (c.says == "") {
			t.Errorf("%s: %+v, %q", name, a, why)
		}
	}
	few.TempC[29] = outsideC(0)(few.HeightM[29])
	for i := range few.HeightM {
		few.HeightM[i] = 600 + 12*float64(i)
		few.TempC[i] += 600*.0065 + 2*float64(i)*.0065 - .0065*(12*float64(i)+600)
	}
	for name, d := range map[string]*Drive{"24.3 K": airDrive(outsideC(24.3)), "3.1 K/km": airDrive(lapse(.0031)), "10.2 K/km": airDrive(lapse(.0102)), "30 readings": few} {
		if a, why := airOf(d); !a.isUsed {
			t.Errorf("%s: %q", name, why)
		}
	}
}

// Without terrain the thermometer narrows the bound of the mean grade by a fifth, and moves it towards the
// truth. In warm air it stays true with a thermometer that is 15 K too warm, one in a cab, and one that
// writes degrees Fahrenheit.
func TestAThermometerNarrowsDrivesAlone(t *testing.T) {
	const weatherK = 10.0
	rng := rand.New(rand.NewPCG(15, 7))
	p, truthM := fusedHill(rng)
	steepM := func(s float64) float64 { return 900 + 2*(truthM(s)-900) } // 12 %, 360 m
	bare := *p
	bare.GroundM, bare.ElevationM, bare.State, bare.Points = nil, nil, nil, make([]orb.Point, 601)
	standardK := 288.15 - .0065*700
	var drives []Drive
	for k := range 4 {
		d := barometerDrive(rng, steepM, .3, func(_, h float64) float64 { return 700 + (h-700)*standardK/(standardK+weatherK) })
		if k%2 == 1 {
			d = backwardOf(d)
		}
		drives = append(drives, d)
	}
	mean := func(tempC func(float64) float64) (pct, boundPct float64, fits []DriveFit) {
		with := append([]Drive(nil), drives...)
		for k := range with {
			with[k].TempC = nil
			for _, s := range with[k].StationM {
				if tempC != nil {
					with[k].TempC = append(with[k].TempC, tempC(steepM(s)))
				}
			}
		}
		q, fits, err := FromDrives(context.Background(), &bare, with)
		if err != nil {
			t.Fatal(err)
		}
		return (q.ElevationAtM(1500) - q.ElevationAtM(4500)) / 30, q.MeanErrPct(1500, 4500), fits
	}
	without, wideErr, _ := mean(nil)
	got, err, fits := mean(outsideC(weatherK))
	if !fits[0].HasAirTemp || !(err < .85*wideErr) || !(math.Abs(got-12) < math.Abs(without-12)) || math.Abs(got-12) > err {
		t.Errorf("%.2f ± %.2f with a thermometer, %.2f ± %.2f without: %+v", got, err, without, wideErr, fits[0])
	}
	for name, c := range map[string]func(float64) float64{"15 K too warm": outsideC(weatherK + 15), "a cab": func(float64) float64 { return 20 }, "Fahrenheit": func(h float64) float64 { return 32 + 1.8*outsideC(weatherK)(h) }} {
		if got, err, fits := mean(c); math.Abs(got-12) > err || fits[0].HasAirTemp && err < .8*wideErr {
			t.Errorf("%s: %.2f ± %.2f, %+v", name, got, err, fits[0])
		}
	}
	// The part that is left is 12 K of thermometer against 3 % of weather.
	var q routes.Profile
	q.StepM, q.ElevationM, q.Bound.SpanPct = 100, make([]float64, 100), make([]float64, len(spansM))
	for i := range q.ElevationM {
		q.ElevationM[i] = 10 * float64(i)
	}
	widenByScale(&q, .025)
	within(t, "bound over 4 km", q.Bound.SpanPct[5], 1.96*.025*10, 1e-9)
}
