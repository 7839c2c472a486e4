package grade

import (
	"context"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// backwardOf is a drive in the other direction.
func backwardOf(d Drive) Drive {
	d.IsBackward = true
	for _, v := range [][]float64{d.StationM, d.HeightM, d.SpeedMPS} {
		slices.Reverse(v)
	}
	return d
}

// Of many drives twelve are used: those that cover most of the road, of both directions. The others are
// named.
func TestTwelveOfManyDrivesAreUsed(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 32))
	p, truthM := fusedHill(rng)
	var drives []Drive
	for k := range 30 { // 0 to 9 cover a third; of the rest five are backward
		d := barometerDrive(rng, truthM, .3, nil)
		if k < 10 {
			d.StationM, d.HeightM, d.SpeedMPS = d.StationM[:100], d.HeightM[:100], d.SpeedMPS[:100]
		}
		if k >= 25 {
			d = backwardOf(d)
		}
		drives = append(drives, d)
	}
	_, fits, err := Fuse(context.Background(), p, drives)
	if err != nil {
		t.Fatal(err)
	}
	used, backward := 0, 0
	for k, f := range fits {
		switch {
		case f.IsUsed && k < 10:
			t.Errorf("drive %d covers a third of the road and is used", k)
		case f.IsUsed && k >= 25:
			backward++
			used++
		case f.IsUsed:
			used++
		case f.Why != "12 drives are used already":
			t.Errorf("drive %d: %q", k, f.Why)
		}
	}
	if used != 12 || backward != 5 {
		t.Errorf("%d used, %d of them backward", used, backward)
	}
}

// A bad drive of many is replaced by one that waits. Where drive after drive does not fit, the search ends.
func TestBadDrivesOfManyAreReplaced(t *testing.T) {
	rng := rand.New(rand.NewPCG(33, 34))
	p, truthM := fusedHill(rng)
	p.LengthM, p.GroundM, p.ElevationM, p.State = 1500, p.GroundM[:151], p.ElevationM[:151], p.State[:151]
	for bad, want := range map[int]int{5: 12, 40: 0} {
		var drives []Drive
		for k := range 45 {
			whiteM := .3
			if k < bad {
				whiteM = 2.5
			}
			drives = append(drives, barometerDrive(rng, truthM, whiteM, nil))
		}
		_, fits, err := Fuse(context.Background(), p, drives)
		if err != nil {
			t.Fatal(err)
		}
		used, tired := 0, 0
		for k, f := range fits {
			if f.IsUsed {
				used++
			}
			if k < bad && f.IsUsed || !f.IsUsed && f.Why == "" {
				t.Errorf("%d bad: drive %d: %+v", bad, k, f)
			}
			if strings.Contains(f.Why, "other drives do not fit") {
				tired++
			}
		}
		if used != want || want == 0 && tired == 0 {
			t.Errorf("%d bad: %d used, %d not tried", bad, used, tired)
		}
	}
}
