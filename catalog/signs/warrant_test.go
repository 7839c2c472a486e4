package signs

import (
	"math"
	"testing"

	"gradeline/routes"
)

// hillOf is an invented road: level, a hill of one grade, level.
func hillOf(errPct, lengthM, downPct float64) Input {
	p := road(errPct, leg{500, 0, 0}, leg{lengthM, downPct, 0}, leg{1000, 0, 0})
	return Input{Descent: descent(p, 500, 500+lengthM), Profile: p, ApproachSpeedMPS: 55 * mph}
}

func verdictOf(t *testing.T, in Input, id, warrant string) Verdict {
	t.Helper()
	best := NotWarranted
	for _, st := range plan(t, in, id).Stretches {
		if st.Warrant == warrant && (st.Verdict == Warranted || best == NotWarranted) {
			best = st.Verdict
		}
	}
	return best
}

// sharp is a bound so small that only the threshold decides.
const sharp = 1e-6

// Hill sign warrants, MUTCD 11th edition (2023): 5 % 3,000 ft; 6 % 2,000 ft;
// 7 % 1,000 ft; 8 % 750 ft; 9 % 500 ft. Second-hand. Just above and just below
// each, in grade and in length; 3,000 ft is 914.4 m and so on.
func TestHillThresholdsUS(t *testing.T) {
	for _, c := range []struct{ gradePct, longerM, shorterM float64 }{
		{5, 920, 910}, {6, 610, 600}, {7, 310, 300}, {8, 230, 220}, {9, 160, 150},
	} {
		for _, x := range []struct {
			lengthM, gradePct float64
			want              Verdict
		}{
			{c.longerM, c.gradePct + 0.001, Warranted},
			{c.longerM, c.gradePct - 0.001, NotWarranted},
			{c.shorterM, c.gradePct + 0.001, NotWarranted},
		} {
			if got := verdictOf(t, hillOf(sharp, x.lengthM, x.gradePct), "us-2023", "hill"); got != x.want {
				t.Errorf("%g %% over %g m: %s, want %s", x.gradePct, x.lengthM, got, x.want)
			}
		}
		// With no error at all, a grade that is just met counts.
		if got := verdictOf(t, hillOf(0, c.longerM+100, c.gradePct), "us-2023", "hill"); got != Warranted {
			t.Errorf("%g %% met: %s", c.gradePct, got)
		}
	}
}

// Traffic Signs Manual chapter 4 (2013), 6.2: 10 % or more; 6.5: over 12 %
// overall or in part, and the hill longer than 800 m. Published.
func TestHillThresholdsUK(t *testing.T) {
	for _, x := range []struct {
		lengthM, gradePct float64
		warrant           string
		want              Verdict
	}{
		{400, 10.001, "hill", Warranted}, {400, 9.999, "hill", NotWarranted},
		{900, 12.001, "low-gear", Warranted}, {900, 11.999, "low-gear", NotWarranted},
		{830, 13, "low-gear", Warranted}, {770, 13, "low-gear", NotWarranted},
		{800, 13, "low-gear", CantTell}, // the ends are known to 10 m each
	} {
		if got := verdictOf(t, hillOf(sharp, x.lengthM, x.gradePct), "uk-2013", x.warrant); got != x.want {
			t.Errorf("%s, %g %% over %g m: %s, want %s", x.warrant, x.gradePct, x.lengthM, got, x.want)
		}
	}
	// With no error at all, 10 % is met and 12 % is not exceeded.
	if got := verdictOf(t, hillOf(0, 900, 10), "uk-2013", "hill"); got != Warranted {
		t.Errorf("10 %%: %s", got)
	}
	if got := verdictOf(t, hillOf(0, 900, 12), "uk-2013", "low-gear"); got != NotWarranted {
		t.Errorf("12 %%: %s", got)
	}
	// In part: only 200 m of a 1,100 m hill are over 12 %.
	p := road(sharp, leg{500, 0, 0}, leg{500, 10.5, 0}, leg{200, 12.5, 0}, leg{400, 10.5, 0}, leg{500, 0, 0})
	in := Input{Descent: descent(p, 500, 1600), Profile: p, ApproachSpeedMPS: 40 * mph}
	if got := verdictOf(t, in, "uk-2013", "low-gear"); got != Warranted {
		t.Errorf("in part: %s", got)
	}
	in.Choices = map[string]string{"hill-length": "stretch"} // those 200 m alone are not longer than 800 m
	if got := verdictOf(t, in, "uk-2013", "low-gear"); got != NotWarranted {
		t.Errorf("in part, the stretch alone: %s", got)
	}
}

// This project's own set, no standard.
func TestHillThresholdsHaulRoad(t *testing.T) {
	for _, x := range []struct {
		lengthM, gradePct float64
		want              Verdict
	}{
		{1010, 4.001, Warranted}, {1010, 3.99, NotWarranted}, {990, 4.001, NotWarranted},
		{410, 6.001, Warranted}, {390, 6.001, NotWarranted}, {210, 8.001, Warranted}, {190, 8.001, NotWarranted},
		{110, 11.001, Warranted}, {90, 9.9, NotWarranted},
	} {
		if got := verdictOf(t, hillOf(sharp, x.lengthM, x.gradePct), "haul-road", "hill"); got != x.want {
			t.Errorf("%g %% over %g m: %s, want %s", x.gradePct, x.lengthM, got, x.want)
		}
	}
}

// The same hill on coarser terrain: within its bound of a threshold it can't be
// told, and signs placed for it say so.
func TestVerdictWithinTheBound(t *testing.T) {
	for _, x := range []struct {
		gradePct float64
		want     Verdict
	}{{5.4, Warranted}, {5.1, CantTell}, {4.9, CantTell}, {4.6, NotWarranted}} {
		in := hillOf(0.8, 1500, x.gradePct) // ±0.28 % over 3,000 ft
		s := plan(t, in, "us-2023")
		st := s.Stretches[0]
		if st.Verdict != x.want {
			t.Errorf("%g %%: %s", x.gradePct, st)
		}
		if st.BoundPct < 0.2 || st.BoundPct > 0.35 {
			t.Errorf("%g %%: bound %g", x.gradePct, st.BoundPct)
		}
		for _, p := range s.Placements {
			want := map[Verdict]string{Warranted: NeedWarranted, CantTell: NeedCantTell}[x.want]
			if p.Role == RoleAdvance && p.Need != want {
				t.Errorf("%g %%: need %q, want %q", x.gradePct, p.Need, want)
			}
		}
		if placed := len(s.Placements) > 0; placed == (x.want == NotWarranted) {
			t.Errorf("%g %%: %d signs", x.gradePct, len(s.Placements))
		}
	}
}

// Interpolated ground widens the bound, so a bridged hill can't be told where a
// measured one can.
// A part that smoothing may have eased can't be told off, also where another part of the
// hill is warranted by itself, and in the direction of travel alone: 4 % over 2,500 m,
// and 11 m that smoothing took off within 400 m of it, 2.75 points.
func TestVerdictWhereSmoothingEasedAPart(t *testing.T) {
	p := road(sharp, leg{500, 0, 0}, leg{500, 7, 0}, leg{2500, 4, 0}, leg{1000, 0, 0})
	p.EaseM, p.Bound.EaseShare = make([]float64, p.Count()), 1
	in := Input{Descent: descent(p, 500, 3500), Profile: p, ApproachSpeedMPS: 55 * mph}
	count := func() (warranted, cantTell int, at Judgement) {
		for _, st := range plan(t, in, "us-2023").Stretches {
			switch {
			case st.Warrant == "hill" && st.Verdict == Warranted:
				warranted++
			case st.Warrant == "hill" && st.Verdict == CantTell:
				cantTell++
				at = st
			}
		}
		return
	}
	if w, c, _ := count(); w != 1 || c != 0 {
		t.Fatalf("before: %d warranted, %d can't tell", w, c)
	}
	for i := range p.EaseM {
		p.EaseM[i] = -11 * math.Max(0, math.Min(1, (p.StationM(i)-2400)/400))
	}
	w, c, at := count()
	if w != 1 || c != 1 || at.FromM > 2400 || at.ToM < 2800 {
		t.Errorf("%d warranted, %d can't tell, from %.0f to %.0f m", w, c, at.FromM, at.ToM)
	}
}

func TestVerdictOverStructures(t *testing.T) {
	in := hillOf(0.3, 1500, 5.2)
	if st := plan(t, in, "us-2023").Stretches[0]; st.Verdict != Warranted {
		t.Fatalf("measured: %s", st)
	}
	in.Profile.Bound.ElevationM = 3
	for i := 60; i < 190; i++ {
		in.Profile.State[i] = routes.OnBridge
	}
	if st := plan(t, in, "us-2023").Stretches[0]; st.Verdict != CantTell {
		t.Errorf("bridged: %s", st)
	}
}

// What the standards leave open changes the answer, and the answer says what
// was chosen.
func TestChoicesDecide(t *testing.T) {
	halves := road(sharp, leg{500, 0, 0}, leg{1000, 6, 0}, leg{250, 0, 0}, leg{1000, 6, 0}, leg{500, 0, 0})
	twoHills := Input{Descent: descent(halves, 500, 2750), Profile: halves, ApproachSpeedMPS: 55 * mph}
	for _, c := range []struct {
		in             Input
		id, name, pick string
		want           Verdict
		stretches      int
	}{
		{hillOf(sharp, 800, 5.5), "us-2023", "between-rows", "step", NotWarranted, 1},
		{hillOf(sharp, 800, 5.5), "us-2023", "between-rows", "interpolate", Warranted, 1}, // 2,500 ft
		{hillOf(sharp, 800, 5.5), "us-2023", "between-rows", "nearest", Warranted, 1},     // as 6 %
		{hillOf(sharp, 120, 10.5), "us-2023", "above-last", "last-row", NotWarranted, 1},
		{hillOf(sharp, 120, 10.5), "us-2023", "above-last", "any-length", Warranted, 1},
		{hillOf(sharp, 170, 9.5), "us-2023", "above-last", "last-row", Warranted, 1},
		{twoHills, "us-2023", "bench", "bridge", Warranted, 1},
		{twoHills, "us-2023", "bench", "split", Warranted, 2},
		{hillOf(sharp, 400, 9.6), "uk-2013", "between-rows", "step", NotWarranted, 1},
		{hillOf(sharp, 400, 9.6), "uk-2013", "between-rows", "nearest", Warranted, 1},
	} {
		c.in.Choices = map[string]string{c.name: c.pick}
		s := plan(t, c.in, c.id)
		n := 0
		for _, st := range s.Stretches {
			if st.Warrant == "hill" {
				if n++; st.Verdict != c.want {
					t.Errorf("%s=%s: %s", c.name, c.pick, st)
				}
			}
		}
		if n != c.stretches {
			t.Errorf("%s=%s: %d stretches, want %d", c.name, c.pick, n, c.stretches)
		}
		shown := false
		for _, m := range s.Choices {
			shown = shown || m.Name == c.name && m.Option == c.pick && !m.Default && m.Words != ""
		}
		if !shown {
			t.Errorf("%s=%s is not shown in the answer", c.name, c.pick)
		}
	}
}

// Traffic Signs Manual chapter 4 (2013), 6.2: 10.4 % is signed as 10 %, 10.6 %
// as 11 %. Published.
func TestRoundingUK(t *testing.T) {
	for _, c := range []struct{ gradePct, shown float64 }{{10.4, 10}, {10.6, 11}, {10.5, 11}, {13.49, 13}} {
		st := plan(t, hillOf(sharp, 400, c.gradePct), "uk-2013").Stretches[0]
		if st.Figure.ShownPct != c.shown {
			t.Errorf("%g %% is shown as %g, want %g", c.gradePct, st.Figure.ShownPct, c.shown)
		}
	}
	for _, c := range []struct {
		rule       string
		pct, shown float64
	}{{"up", 10.01, 11}, {"up", 10, 10}, {"down", 10.99, 10}, {"down", 11, 11}, {"nearest", 10.4999, 10}} {
		if got := wholePct(c.rule, c.pct); got != c.shown {
			t.Errorf("%s %g: %g", c.rule, c.pct, got)
		}
	}
}

// A figure near a half carries the whole per cents that its bound allows.
func TestFigureBound(t *testing.T) {
	f := plan(t, hillOf(0.3, 1500, 6.45), "us-2023").Stretches[0].Figure
	if f.ShownPct != 6 || f.LowPct != 6 || f.HighPct != 7 {
		t.Errorf("%+v", f)
	}
}
