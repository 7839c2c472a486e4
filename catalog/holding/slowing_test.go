package holding

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
)

// roundaboutHill is 15 km of one downgrade with a curve of a radius at 12 km.
func roundaboutHill(downgradePct, radiusM float64) Hill {
	h := Hill{StationM: []float64{0}, RadiusM: []float64{math.Inf(1)}}
	for i := 1; i <= 150; i++ {
		radius := math.Inf(1)
		if i == 122 {
			radius = radiusM
		}
		h.StationM, h.DowngradePct, h.RadiusM = append(h.StationM, float64(i)*100), append(h.DowngradePct, downgradePct), append(h.RadiusM, radius)
	}
	return h
}

// slowingsOf are the stretches on which the service brakes slow the truck.
func slowingsOf(a *catalog.Hold) (out []catalog.HoldStretch) {
	for _, s := range a.Stretches {
		if s.Slowing != nil {
			out = append(out, s)
		}
	}
	return out
}

// A slowing worked by hand: 80,000 lb on 4.5 % in seventh gear, a roundabout of 10 m in third. Length:
// half a metre per second squared (common practice, as before a crest), then five seconds at the low
// speed. Heat: all of the energy in ten drums of 45 kg of iron of 500 J/(kg·K), from 150 °F; the
// rating system's stop, 3.11e-7·W·V² °F, shared by energy, is less. One mph faster would take them
// past 200 °F, where their working range begins.
func TestASlowingByHand(t *testing.T) {
	c := mustClass(t, "us-5axle")
	a := advise(t, roundaboutHill(4.5, 10), c, Options{})
	list := slowingsOf(&a)
	if len(list) != 1 || a.Gear != 3 || a.LimitedBy != catalog.LimitCurve {
		t.Fatalf("gear %d by %s, %d slowings: %+v", a.Gear, a.LimitedBy, len(list), a.Stretches)
	}
	s := list[0]
	const mph, massKg = 0.44704, 36287.39
	v, w := s.Slowing.FromSpeedMPS, s.SpeedMPS
	lengthM := (v*v-w*w)/(2*0.5) + 5*w
	if math.Abs(s.ToM-s.FromM-lengthM) > 0.5 || s.ToM != 12_000 || s.Gear != 3 || math.Abs(w-9*mph) > 1e-9 {
		t.Errorf("%+v: want gear 3 at 9 mph in %.0f m, before 12 km", s, lengthM)
	}
	sin := 0.045 / math.Sqrt(1+0.045*0.045)
	pull := 9.80665 * (sin - 0.0053*math.Sqrt(1-sin*sin))
	riseC := func(v float64) float64 {
		m := (v*v-w*w)/(2*0.5) + 5*w
		return massKg * ((v*v-w*w)/2 + pull*m) / (10 * 45 * 500)
	}
	const startC, workC = (150.0 - 32) * 5 / 9, (200.0 - 32) * 5 / 9
	if got, want := s.Slowing.ServiceBrakeTempC, startC+riseC(v); math.Abs(got-want) > 0.11 {
		t.Errorf("%.1f °C after it, by hand %.2f °C", got, want)
	}
	byStopC := 3.11e-7 * 80_000 / mph / mph * 2 * (riseC(v) * 10 * 45 * 500 / massKg) * 5 / 9
	if byStopC > riseC(v) {
		t.Errorf("the rating system's rise of %.1f K is the higher one", byStopC)
	}
	if startC+riseC(v) > workC || startC+riseC(v+mph) <= workC {
		t.Errorf("from %.2f m/s they reach %.1f °C, from one mph more %.1f °C", v, startC+riseC(v), startC+riseC(v+mph))
	}
	if !strings.Contains(strings.Join(a.Cautions, "\n"), "On the way the service brakes slow the truck for a curve, to about 198 °F at most") {
		t.Errorf("%q", a.Cautions)
	}
}

// No slowing is planned where the retarder does it, for a steep part, where little time is saved, on a
// surface that is too slippery for it, or where the brakes could then not make their emergency stop.
func TestWhereNoSlowingIsPlanned(t *testing.T) {
	c := mustClass(t, "us-5axle")
	steep := roundaboutHill(4.5, math.Inf(1))
	for i := 120; i < 130; i++ {
		steep.DowngradePct[i] = 9
	}
	short := roundaboutHill(4.5, 10)
	short.StationM, short.DowngradePct, short.RadiusM = short.StationM[:23], short.DowngradePct[:22], short.RadiusM[:23]
	short.RadiusM[8] = 10
	for what, h := range map[string]Hill{"a curve that the retarder slows for": roundaboutHill(4, 60), "a steep part": steep, "500 m before a curve": short} {
		if a := advise(t, h, c, Options{}); !a.Holds || len(slowingsOf(&a)) > 0 {
			t.Errorf("%s: %+v", what, a.Stretches)
		}
	}
	h := roundaboutHill(4.5, 10)
	p, err := newProblem(&h, &c, Options{})
	if err != nil {
		t.Fatal(err)
	}
	whole, at := p.best()
	blocks := p.blocks()
	for i := range blocks {
		blocks[i].tryGears(whole, at, p.mostFriction(at))
	}
	from := func(friction, riseF float64) int {
		a, b := blocks[23], blocks[24]
		a.friction = friction
		return p.slowingFrom(&a, &b, 7, 3, b.wholeAt(3), slowingRoom{riseF})
	}
	need := (0.5 + 9.80665*(0.045-0.0053)) / 9.80665
	if got := p.slowingFriction(&blocks[23]); math.Abs(got-need) > 0.01*need || from(need*0.98, 50) != noSpeedWhole {
		t.Errorf("a slowing needs a friction of %.4f, want %.4f", got, need)
	}
	if from(1, 50) == noSpeedWhole || from(1, 10) != noSpeedWhole {
		t.Error("the heat of a slowing does not count")
	}
	// 500 °F less a stop from the highest speed, where that is less than to 200 °F.
	if room := p.slowingRoomF(blocks); math.Abs(room-50) > 1e-9 {
		t.Errorf("room for %.1f °F, want 50", room)
	}
	p.massKg *= 10
	for i := range blocks {
		blocks[i].wholeByGear = []int{40}
	}
	if room, want := p.slowingRoomF(blocks), 500-150-3.11e-7*800_000*40*40; want > 0 || math.Abs(room-want) > 0.01 {
		t.Errorf("room for %.1f °F, want %.1f", room, want)
	}
}

// Two roundabouts share the room: nothing is taken to cool in between.
func TestSlowingsShareTheHeat(t *testing.T) {
	c := mustClass(t, "us-5axle")
	h := roundaboutHill(4.5, 10)
	one := advise(t, h, c, Options{})
	h.RadiusM[60] = 10
	two := advise(t, h, c, Options{})
	a, b := slowingsOf(&one), slowingsOf(&two)
	if len(a) != 1 || len(b) != 2 {
		t.Fatalf("%d and %d slowings", len(a), len(b))
	}
	if b[1].Slowing.ServiceBrakeTempC > 93.4 || b[1].Slowing.ServiceBrakeTempC <= b[0].Slowing.ServiceBrakeTempC || b[0].Slowing.FromSpeedMPS >= a[0].Slowing.FromSpeedMPS {
		t.Errorf("one: %+v; two: %+v, %+v", a[0].Slowing, b[0].Slowing, b[1].Slowing)
	}
}
