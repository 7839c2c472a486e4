package debrief

import (
	"cmp"
	"slices"
)

// dragS is the duration from which an application of the service brakes on a downgrade is dragging
// and not a snub; a snub takes about three seconds (common practice, no source for the limit).
const dragS = 10.0

// BrakeUse is the use of the service brakes by a recorded switch, from the crest to the foot.
type BrakeUse struct {
	Count    int     `json:"count"` // applications
	TotalS   float64 `json:"total_s"`
	LongestS float64 `json:"longest_s"`
	Drags    int     `json:"drags"` // applications of dragS and more
	DragS    float64 `json:"drag_s"`
	FromM    float64 `json:"from_m"`    // of the first one's start
	ToM      float64 `json:"to_m"`      // of the last one's end
	KnownPct float64 `json:"known_pct"` // of the time on the hill with points, for which the switch is recorded
	IsSparse bool    `json:"sparse"`    // points are too far apart to count short applications

	SpansM [][2]float64 `json:"spans_m"` // where, from the crest
}

// brakeUse counts the applications while moving; nil where the switch is not recorded.
func brakeUse(v *driven, lengthM float64) *BrakeUse {
	u := &BrakeUse{IsSparse: v.sampleS > 1.5, SpansM: [][2]float64{}}
	var onHillS, knownS float64
	begin := -1
	end := func(to int) {
		if begin < 0 {
			return
		}
		s := v.pass[to].TimeS - v.pass[begin].TimeS
		if u.Count == 0 {
			u.FromM = v.pass[begin].DistanceM
		}
		u.Count, u.TotalS, u.LongestS, u.ToM = u.Count+1, u.TotalS+s, max(u.LongestS, s), v.pass[to].DistanceM
		u.SpansM = append(u.SpansM, [2]float64{v.pass[begin].DistanceM, v.pass[to].DistanceM})
		if s >= dragS {
			u.Drags, u.DragS = u.Drags+1, u.DragS+s
		}
		begin = -1
	}
	for i := range v.pass {
		at, f := v.pass[i].DistanceM, v.pass[i].Fix
		if v.afterGap0(i) {
			end(i - 1)
		}
		if at < 0 || at > lengthM {
			end(max(0, i-1))
			continue
		}
		onHillS += v.heldS(i)
		if f.ServiceBrake != nil {
			knownS += v.heldS(i)
		}
		switch isOn := f.ServiceBrake != nil && *f.ServiceBrake && v.speedMPS[i] > stoppedMPS; {
		case isOn && begin < 0:
			begin = i
		case !isOn:
			end(i) // it was released between the last point and this one
		}
	}
	end(len(v.pass) - 1)
	if knownS == 0 {
		return nil
	}
	u.KnownPct = 100 * knownS / onHillS
	return u
}

// highGear is where a recorded gear was higher than the advised one, from the crest to the foot while
// moving.
func highGear(v *driven, advised int, lengthM float64) [][2]float64 {
	out := [][2]float64{}
	begin := -1
	end := func(to int) {
		if begin >= 0 && to > begin {
			out = append(out, [2]float64{v.pass[begin].DistanceM, v.pass[to].DistanceM})
		}
		begin = -1
	}
	for i := range v.pass {
		if v.afterGap0(i) {
			end(i - 1)
		}
		at := v.pass[i].DistanceM
		switch isHigh := advised > 0 && v.pass[i].Fix.Gear > advised && v.speedMPS[i] > stoppedMPS && at >= 0 && at <= lengthM; {
		case isHigh && begin < 0:
			begin = i
		case !isHigh:
			end(i)
		}
	}
	end(len(v.pass) - 1)
	return out
}

// leastUnheldM is the length from which driving in a high gear is told as a fault: less may be the
// error of the recorded places (common practice, no source).
const leastUnheldM = 100.0

// highGearUnheldM is the length in a gear over the advised one that did not hold the truck: it was
// certainly over the advised speed, or on the service brakes by their switch. A high gear alone is
// no fault: a lighter truck, or a gentle part of the hill, can be held in it. Each span may be too
// long by the way between two points.
func highGearUnheldM(d *Debrief) float64 {
	var bad [][2]float64
	for _, o := range d.Over {
		bad = append(bad, [2]float64{o.FromM, o.ToM})
	}
	if d.Applied != nil {
		bad = append(bad, d.Applied.SpansM...)
	}
	slices.SortFunc(bad, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	var sumM float64
	betweenM := d.SampleS * max(d.MostMPS, d.AdvisedMPS)
	for _, g := range d.HighGearM {
		fromM, inSpanM := g[0], 0.0
		for _, b := range bad {
			if a, z := max(fromM, b[0]), min(g[1], b[1]); z > a {
				inSpanM, fromM = inSpanM+z-a, z
			}
		}
		sumM += max(0, inSpanM-betweenM)
	}
	if sumM < leastUnheldM {
		return 0
	}
	return sumM
}
