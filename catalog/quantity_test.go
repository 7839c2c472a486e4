package catalog

import (
	"errors"
	"math"
	"strings"
	"testing"
	"unicode/utf8"
)

// Exact factors: NIST Special Publication 811 (2008), appendix B.8, from memory;
// 80,000 lb = 36,287.3896 kg is that factor times 80,000.
func TestQuantitiesAreRead(t *testing.T) {
	for _, c := range []struct {
		text string
		read func(string) (float64, error)
		want float64
	}{
		{"80000lb", MassKg, 36287.3896}, {"80,000 lb", MassKg, 36287.3896}, {"102500lbs", MassKg, 46493.217925},
		{"46.5t", MassKg, 46500}, {"40 st", MassKg, 36287.3896}, {"46500kg", MassKg, 46500}, {"46500 KG", MassKg, 46500},
		{"6mi", LengthM, 9656.064}, {"9.6km", LengthM, 9600}, {"3,000ft", LengthM, 914.4}, {"900 m", LengthM, 900},
		{"25mph", SpeedMPS, 11.176}, {"40km/h", SpeedMPS, 40 / 3.6}, {"11m/s", SpeedMPS, 11},
		{"8%", DowngradePct, 8}, {"-8%", DowngradePct, 8}, {"6.5 %", DowngradePct, 6.5},
	} {
		got, err := c.read(c.text)
		if err != nil || math.Abs(got-c.want) > 1e-9*c.want {
			t.Errorf("%q: %v, %v, want %v", c.text, got, err, c.want)
		}
	}
}

func TestDangerousQuantitiesAreRefused(t *testing.T) {
	for _, c := range []struct {
		text string
		read func(string) (float64, error)
	}{
		{"80000", MassKg}, {"46,5t", MassKg}, {"40ton", MassKg}, {"40 tons", MassKg}, {"40 tonnes", MassKg}, {"-5t", MassKg}, {"0kg", MassKg},
		{"NaNkg", MassKg}, {"infkg", MassKg}, {"1e5kg", MassKg}, {"0x10kg", MassKg}, {"1,00,000lb", MassKg}, {"", MassKg}, {"lb", MassKg}, {"5mi", MassKg},
		{"6", LengthM}, {"6 miles", LengthM}, {"six mi", LengthM}, {"25", SpeedMPS}, {"25kmph", SpeedMPS},
		{"8", DowngradePct}, {"100%", DowngradePct}, {"--8%", DowngradePct}, {"8°", DowngradePct}, {"1:12", DowngradePct},
	} {
		v, err := c.read(c.text)
		if err == nil {
			t.Errorf("%q is read as %v", c.text, v)
			continue
		}
		if !errors.Is(err, ErrQuantity) || !strings.Contains(err.Error(), ";") {
			t.Errorf("%q: %v says not what to do", c.text, err)
		}
	}
}

func TestSpeedsAreRoundedDown(t *testing.T) {
	for _, c := range []struct {
		mps  float64
		u    Units
		want string
	}{
		{25 * 0.44704, US, "25 mph"}, {25.99 * 0.44704, US, "25 mph"}, {40 / 3.6, Metric, "40 km/h"}, {40.99 / 3.6, Metric, "40 km/h"}, {0, US, "0 mph"},
	} {
		if got := c.u.Speed(c.mps); got != c.want {
			t.Errorf("%v m/s: %s, want %s", c.mps, got, c.want)
		}
	}
}

func TestABoundIsRoundedUp(t *testing.T) {
	for errPct, want := range map[float64]string{0.02: "6.0 ± 0.1 %", 0.1: "6.0 ± 0.1 %", 0.11: "6.0 ± 0.2 %", 1.4: "6.0 ± 1.4 %"} {
		if got := GradeWithBound(6, errPct); got != want {
			t.Errorf("%v: %s, want %s", errPct, got, want)
		}
	}
}

func TestFiguresForPeople(t *testing.T) {
	for got, want := range map[string]string{
		US.Mass(36287.3896): "80,000 lb", Metric.Mass(46500): "46.5 t", US.Length(9656.064): "6.0 mi", US.Length(150): "500 ft",
		Metric.Length(9600): "9.6 km", Metric.Length(250): "250 m", US.Height(304.8): "1,000 ft", Metric.Height(-12.4): "-12 m", US.Temp(100): "212 °F", Metric.Temp(100): "100 °C",
	} {
		if got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
}

func FuzzQuantity(f *testing.F) {
	for _, s := range []string{"80,000 lb", "46.5t", "8%", "6mi", "25mph", "1:12", "٣kg", "\x00", "9e999kg"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, read := range []func(string) (float64, error){MassKg, LengthM, SpeedMPS, DowngradePct} {
			v, err := read(s)
			switch {
			case err == nil && !(v > 0 && !math.IsInf(v, 0)):
				t.Fatalf("%q is read as %v", s, v)
			case err == nil && !utf8.ValidString(s):
				t.Fatalf("%q is read", s)
			case err != nil && v != 0:
				t.Fatalf("%q gives both %v and %v", s, v, err)
			}
		}
	})
}

// A mass that holds never reads as more than it is, but for 2 lb of rounding.
func TestMassDownNeverRoundsUp(t *testing.T) {
	for _, c := range []struct {
		massKg     float64
		us, metric string
	}{
		{36287, "80,000 lb", "36.2 t"}, {36283, "79,900 lb", "36.2 t"}, {63500, "139,900 lb", "63.5 t"}, {24499, "54,000 lb", "24.4 t"}, {0, "0 lb", "0.0 t"},
	} {
		if us, metric := US.MassDown(c.massKg), Metric.MassDown(c.massKg); us != c.us || metric != c.metric {
			t.Errorf("%g kg: %s, %s", c.massKg, us, metric)
		}
	}
}

// An altitude may be zero or below the sea, a temperature below zero; both carry a unit.
func TestAltitudesAndTemperatures(t *testing.T) {
	for s, want := range map[string]float64{"0m": 0, "7000ft": 2133.6, "-100m": -100, "900 m": 900} {
		if got, err := AltitudeM(s); err != nil || math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: %g, %v", s, got, err)
		}
	}
	for s, want := range map[string]float64{"35C": 35, "-10 °C": -10, "95F": 35, "0C": 0, "32 °F": 0, "14f": -10} {
		if got, err := TempC(s); err != nil || math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: %g, %v", s, got, err)
		}
	}
	for _, s := range []string{"", "0", "-", "m", "--5m", "NaNm", "1e3m"} {
		if v, err := AltitudeM(s); err == nil {
			t.Errorf("%q is an altitude of %g m", s, v)
		}
	}
	for _, s := range []string{"", "35", "C", "--5C", "NaNC", "hot"} {
		if v, err := TempC(s); err == nil {
			t.Errorf("%q is a temperature of %g C", s, v)
		}
	}
}
