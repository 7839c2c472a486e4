package holding

import (
	"flag"
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

var simulated = flag.Int("hills", 300, "hills that are simulated; 2000 for the figures in NOTES.md")

// driver is an independent run down a hill in time steps: he sets the levers when the
// truck reaches the top of the band, lets them go at its low end, and each change works a
// second later. Road load and retarders are worked out from the published view.
type driver struct {
	stepS  float64
	view   vehicle.ClassView
	hold   catalog.Hold
	levers []int // stages to set
	gradeP func(atM float64) float64
	highM  func(atM float64) float64
}

// forceN is what the levers take from the wheels at a speed.
func (d *driver) forceN(levers []int, v, elevationM float64) float64 {
	if levers == nil {
		return 0
	}
	c := d.view
	rpm := v / c.RollingRadiusM * d.hold.Ratio * c.FinalDrive * 30 / math.Pi
	sum := 0.0
	for i, r := range c.Retarders {
		if levers[i] == 0 || rpm < c.EngineMinRPM*(1-1e-9) {
			continue
		}
		if r.Kind == "driveline" {
			sum += math.Min(r.TorqueLimitNm*r.StageSharePct[levers[i]-1]/100*c.FinalDrive/c.RollingRadiusM, r.SustainedPowerW*math.Pow(1-2.25577e-5*elevationM, 5.25588)*math.Min(1, rpm/math.Max(1, r.CoolingRPM))/v)
			continue
		}
		points := r.StagesPowerW[levers[i]-1]
		last := points[len(points)-1]
		watts := last[1] * rpm / last[0] // past the curve's end its torque is kept
		for k := 1; k < len(points); k++ {
			if a, b := points[k-1], points[k]; rpm <= b[0] {
				watts = a[1] + (rpm-a[0])/(b[0]-a[0])*(b[1]-a[1])
				break
			}
		}
		share := math.Max(0, 1-math.Max(0, elevationM-c.AltitudeFullM)/1000*c.AltitudeLossPctPerKM/100)
		sum += watts / v * (1 + (1-c.DrivelineEfficiency)/2) * share
	}
	return sum
}

// fastest runs from the crest to the foot and returns the highest speed.
func (d *driver) fastest(lengthM float64) float64 {
	dt := d.stepS
	v, top, at := d.hold.SpeedMPS, 0.0, 0.0
	var working, wanted []int
	waitS := 0.0
	for steps := 0; at < lengthM && steps < 400000; steps++ {
		if waitS > 0 {
			if waitS -= dt; waitS <= 1e-9 {
				working = wanted
			}
		} else if v >= d.hold.SpeedMPS && wanted == nil {
			wanted, waitS = d.levers, 1
		} else if v <= d.hold.SpeedLowMPS && wanted != nil {
			wanted, waitS = nil, 1
		}
		z := d.highM(at)
		a := (demandW(d.view, d.hold.MassKg, d.gradeP(at), z, v)/v - d.forceN(working, v, z)) / d.hold.MassKg
		v = math.Max(1, v+a*dt)
		at += v * dt
		top = math.Max(top, v)
	}
	return top
}

// The advised levers, set at the top of the band and let go at its low end, each a second
// late, keep the engine under its governed speed all the way down, for the heaviest mass.
func TestTheBandKeepsTheEngineUnderItsGovernedSpeed(t *testing.T) {
	onHeldHills(t, func(t *rapid.T, c vehicle.Class, h Hill, a catalog.Hold) {
		if a.SpeedLowMPS == 0 {
			return
		}
		d := driver{stepS: 0.05, view: c.View(), hold: a}
		for _, l := range a.Levers {
			d.levers = append(d.levers, l.Stage)
		}
		d.gradeP = func(at float64) float64 {
			k := sort.SearchFloat64s(h.StationM, at)
			return h.DowngradePct[max(0, min(k-1, len(h.DowngradePct)-1))]
		}
		d.highM = func(at float64) float64 { return heightAt(h, at) }
		governed := c.Truck.SpeedFromRPM(a.Gear, c.Truck.EngineMaxRPM)
		// He sees the top of the band up to one step late: .05 s at 13 % and less.
		if top := d.fastest(h.LengthM()); top > governed+0.05*1.3 {
			t.Fatalf("%.2f m/s in gear %d, governed %.2f, advised %.2f to %.2f", top, a.Gear, governed, a.SpeedLowMPS, a.SpeedMPS)
		}
	})
}

// surveyed is a hill as a survey of one cell size leaves it: the truth and what was
// recovered of it. Errors of the mean over 100 m are .44, .79 and 1.09 points RMSE at 10,
// 30 and 90 m cells (measured on drawn roads outside structures); they come of heights
// that wander over some 100 m. Every third hill has a part of 500 to 900 m that is 2 to 4
// points steeper and was recovered eased by what a window of twice the cell's reach takes
// off; its bound is wider by as much, as a survey's is.
func surveyed(rng *rand.Rand, rmsePct float64) (truth, recovered Hill) {
	const stepM = 20.0
	n := 150 + rng.IntN(250)
	base := 3.5 + 4*rng.Float64()
	true1 := make([]float64, n)
	drift := 0.0
	for i := range true1 {
		drift = 0.97*drift + 0.12*rng.NormFloat64()
		true1[i] = base + drift
	}
	reach := map[float64]int{0.44: 5, 0.79: 8, 1.09: 12}[rmsePct]
	partFrom, partTo, extra := -1, -1, 0.0
	if rng.IntN(3) == 0 {
		partFrom = 20 + rng.IntN(n-80)
		partTo = partFrom + 25 + rng.IntN(20)
		extra = 2 + 2*rng.Float64()
		for i := partFrom; i < partTo; i++ {
			true1[i] += extra
		}
	}
	eased := make([]float64, n)
	for i := range eased {
		var sum float64
		count := 0
		for k := max(0, i-reach); k <= min(n-1, i+reach); k++ {
			sum, count = sum+true1[k], count+1
		}
		eased[i] = sum / float64(count)
	}
	// Heights off by smoothed noise, scaled to the RMSE of the mean over 100 m.
	white := make([]float64, n+1)
	for i := range white {
		white[i] = rng.NormFloat64()
	}
	off := make([]float64, n+1)
	for i := range off {
		for k := max(0, i-4); k <= min(n, i+4); k++ {
			off[i] += white[k] * math.Exp(-float64((i-k)*(i-k))/8)
		}
	}
	var square float64
	for i := 5; i <= n; i++ {
		square += (off[i] - off[i-5]) * (off[i] - off[i-5])
	}
	scale := rmsePct / 100 * 100 / math.Sqrt(square/float64(n-4))
	var square200 float64
	for i := 10; i <= n; i++ {
		square200 += (off[i] - off[i-10]) * (off[i] - off[i-10])
	}
	bound200 := 1.96 * scale * math.Sqrt(square200/float64(n-9)) / 200 * 100
	truth, recovered = Hill{StationM: []float64{0}}, Hill{StationM: []float64{0}}
	for i := range n {
		truth.StationM = append(truth.StationM, float64(i+1)*stepM)
		truth.DowngradePct = append(truth.DowngradePct, true1[i])
		recovered.DowngradePct = append(recovered.DowngradePct, eased[i]+100*scale*(off[i+1]-off[i])/stepM)
		recovered.ErrPct = append(recovered.ErrPct, bound200+1.5*math.Max(0, math.Abs(true1[i]-eased[i])))
	}
	recovered.StationM = truth.StationM
	recovered.LocalErrPct, recovered.GradeErrPct = bound200, bound200/4
	return truth, recovered
}

// On hills that are steeper than their grade lines say, by the errors of 10, 30 and 90 m
// cells, the advised gear and speed with the whole retarder keep the engine under its
// governed speed; and the advice is not far slower than the true grade would allow.
func TestErrorsOfTheGradeNeverOverspeedTheEngine(t *testing.T) {
	hills := *simulated
	rng := rand.New(rand.NewPCG(16, 9))
	ids := []string{"us-5axle", "ca-tridem", "eu-5axle", "us-dump-3axle"}
	var ratios []float64
	over, held := 0, 0
	for i := range hills {
		truth, seen := surveyed(rng, []float64{0.44, 0.79, 1.09}[i%3])
		c := mustClass(t, ids[i%len(ids)])
		a, err := Advise(seen, c, Options{MassKg: c.MassMaxKg})
		if err != nil {
			t.Fatal(err)
		}
		b, err := Advise(truth, c, Options{MassKg: c.MassMaxKg})
		if err != nil {
			t.Fatal(err)
		}
		if b.Holds {
			ratios = append(ratios, a.SpeedMPS/b.SpeedMPS)
		}
		if !a.Holds {
			continue
		}
		held++
		d := driver{stepS: 0.1, view: c.View(), hold: a, highM: func(float64) float64 { return PlainAltitudeM }}
		for _, l := range a.Levers {
			d.levers = append(d.levers, l.Stages) // all of it where the advised stage is too weak
		}
		d.gradeP = func(at float64) float64 {
			return truth.DowngradePct[max(0, min(int(at/20), len(truth.DowngradePct)-1))]
		}
		governed := c.Truck.SpeedFromRPM(a.Gear, c.Truck.EngineMaxRPM)
		if top := d.fastest(truth.LengthM()); top > governed*1.001 {
			over++
			t.Logf("hill %d, %s: %.2f m/s, governed %.2f, advised %.2f", i, c.ID, top, governed, a.SpeedMPS)
		}
	}
	sort.Float64s(ratios)
	t.Logf("%d hills, %d held: %d over the governed speed; median advice %.2f of what the true grade allows", hills, held, over, ratios[len(ratios)/2])
	if over > 0 || held < hills/2 {
		t.Errorf("%d of %d over the governed speed", over, held)
	}
}
