package resurvey

import (
	"fmt"
	"math"
	"reflect"
	"sort"
	"strings"

	"gradeline/catalog"
	"gradeline/routes"
)

// Shift is one figure of a descent that differs in a new survey by more than both bounds together
// allow.
type Shift struct {
	Figure string  `json:"figure"` // the JSON key
	Old    float64 `json:"old"`
	New    float64 `json:"new"`
	Bound  float64 `json:"bound"`
}

// String describes it in words.
func (s Shift) String() string {
	switch s.Figure {
	case "start_m", "end_m":
		return fmt.Sprintf("%s moved by %.0f m, from station %.0f m to %.0f m (bound %.0f m)", endWord(s.Figure), math.Abs(s.New-s.Old), s.Old, s.New, s.Bound)
	case "start_moved_m", "end_moved_m":
		return fmt.Sprintf("%s moved by %.0f m (bound %.0f m)", endWord(s.Figure), s.New, s.Bound)
	case "mean_downgrade_pct":
		return fmt.Sprintf("the mean downgrade went from %.2f %% to %.2f %% (bound %.2f)", s.Old, s.New, s.Bound)
	}
	return fmt.Sprintf("%s from %.6g to %.6g (bound %.3g)", s.Figure, s.Old, s.New, s.Bound)
}

func endWord(figure string) string {
	if strings.HasPrefix(figure, "start") {
		return "the crest"
	}
	return "the foot"
}

// Pair is a descent of the catalogue and the one of a new survey that is the same
// hill, by their indexes.
type Pair struct{ Old, New int }

const (
	leastOverlap = 0.5  // share of the shorter of two descents from which they are the same hill
	nearM        = 60.0 // two carriageways or two drawings of one road are this close
)

// Match pairs old and new descents of one route one to one, by overlap: by
// station on an unchanged line, else by place. Larger overlaps come first;
// ties go to the earlier.
func Match(old []*Stored, entries []catalog.Entry, sameLine bool) []Pair {
	type candidate struct {
		Pair
		overlapM float64
	}
	var all []candidate
	for i, o := range old {
		for j := range entries {
			n := &entries[j]
			var m float64
			if sameLine {
				m = stationOverlapM(&o.Descent, &n.Descent)
			} else {
				m = placeOverlapM(o.Line, n.Line)
			}
			shorter := math.Min(o.Descent.LengthM, n.Descent.LengthM)
			if m > 0 && m >= leastOverlap*shorter {
				all = append(all, candidate{Pair{i, j}, m})
			}
		}
	}
	sort.SliceStable(all, func(a, b int) bool { return all[a].overlapM > all[b].overlapM })
	var out []Pair
	usedOld, usedNew := map[int]bool{}, map[int]bool{}
	for _, c := range all {
		if !usedOld[c.Old] && !usedNew[c.New] {
			usedOld[c.Old], usedNew[c.New] = true, true
			out = append(out, c.Pair)
		}
	}
	sort.Slice(out, func(a, b int) bool { return out[a].New < out[b].New })
	return out
}

func stationOverlapM(a, b *routes.Descent) float64 {
	if a.Direction != b.Direction {
		return 0
	}
	lo := math.Max(math.Min(a.StartM, a.EndM), math.Min(b.StartM, b.EndM))
	hi := math.Min(math.Max(a.StartM, a.EndM), math.Max(b.StartM, b.EndM))
	return hi - lo
}

// placeOverlapM is the length of line a, in metres on a sphere, that runs within
// nearM of line b and the same way. It only serves to recognise a hill.
func placeOverlapM(a, b []catalog.Vertex) float64 {
	if len(a) < 2 || len(b) < 2 {
		return 0
	}
	kx := 111320 * math.Cos(a[0].LatDeg*math.Pi/180)
	const ky = 110574.0
	minX, maxX, minY, maxY := extentOf(b)
	padX, padY := nearM/math.Max(kx, 1), nearM/ky
	sum := 0.0
	for i := 1; i < len(a); i++ {
		p, q := a[i-1], a[i]
		x, y := (p.LonDeg+q.LonDeg)/2, (p.LatDeg+q.LatDeg)/2
		if x < minX-padX || x > maxX+padX || y < minY-padY || y > maxY+padY {
			continue
		}
		ux, uy := (q.LonDeg-p.LonDeg)*kx, (q.LatDeg-p.LatDeg)*ky
		length := math.Hypot(ux, uy)
		if length > 0 && nearSameWay(x, y, ux, uy, b, kx, ky) {
			sum += length
		}
	}
	return sum
}

func extentOf(line []catalog.Vertex) (minX, maxX, minY, maxY float64) {
	minX, maxX, minY, maxY = math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, v := range line {
		minX, maxX = min(minX, v.LonDeg), max(maxX, v.LonDeg)
		minY, maxY = min(minY, v.LatDeg), max(maxY, v.LatDeg)
	}
	return minX, maxX, minY, maxY
}

func nearSameWay(x, y, ux, uy float64, b []catalog.Vertex, kx, ky float64) bool {
	for j := 1; j < len(b); j++ {
		px, py := (b[j-1].LonDeg-x)*kx, (b[j-1].LatDeg-y)*ky
		vx, vy := (b[j].LonDeg-b[j-1].LonDeg)*kx, (b[j].LatDeg-b[j-1].LatDeg)*ky
		if ux*vx+uy*vy <= 0 {
			continue
		}
		t := math.Max(0, math.Min(1, -(px*vx+py*vy)/(vx*vx+vy*vy)))
		if math.Hypot(px+t*vx, py+t*vy) <= nearM {
			return true
		}
	}
	return false
}

// shifts lists the figures of a descent that moved beyond their bounds. Stations are compared
// on an unchanged line only; on a new line the crest and foot by their place.
func shifts(old *Stored, e *catalog.Entry, sameLine bool) []Shift {
	a, b := &old.Descent, &e.Descent
	var out []Shift
	add := func(figure string, x, y, bound float64) {
		if math.Abs(x-y) > bound {
			out = append(out, Shift{figure, x, y, bound})
		}
	}
	startErr, endErr := math.Hypot(a.StartErrM, b.StartErrM), math.Hypot(a.EndErrM, b.EndErrM)
	if sameLine {
		add("start_m", a.StartM, b.StartM, startErr)
		add("end_m", a.EndM, b.EndM, endErr)
	} else {
		add("start_moved_m", 0, apartM(a.CrestLonDeg, a.CrestLatDeg, b.CrestLonDeg, b.CrestLatDeg), math.Max(startErr, nearM))
		add("end_moved_m", 0, apartM(a.FootLonDeg, a.FootLatDeg, b.FootLonDeg, b.FootLatDeg), math.Max(endErr, nearM))
	}
	add("mean_downgrade_pct", a.MeanDowngradePct, b.MeanDowngradePct, math.Hypot(a.MeanDowngradeErrPct, b.MeanDowngradeErrPct))
	return out
}

func apartM(lon0, lat0, lon1, lat1 float64) float64 {
	dx := math.Remainder(lon1-lon0, 360) * 111320 * math.Cos(lat0*math.Pi/180)
	return math.Hypot(dx, (lat1-lat0)*110574)
}

// SameFigures reports whether a survey found exactly what the catalogue holds.
func SameFigures(old *Stored, e *catalog.Entry) bool {
	d := e.Descent
	d.ID = old.Descent.ID
	return reflect.DeepEqual(old.Descent, d) && reflect.DeepEqual(old.Line, e.Line)
}
