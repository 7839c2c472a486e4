package plansheet

import (
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/signs"
)

// A sheet's fixed measures, mm.
const (
	marginMM  = 10.0
	columnMM  = 102.0 // width of the column at the right: arrow, list, title block
	planMM    = 112.0 // height of the plan
	titleMM   = 52.0  // height of the title block
	mostPlans = 4     // a scale that needs more sheets of plan and profile gives way to a smaller one
)

// span is a stretch of the road, metres past the crest.
type span struct{ fromM, toM float64 }

// drafter lays out the sheets of one set.
type drafter struct {
	s                 *Set
	sch               *signs.Schedule
	course            signs.Course
	u                 catalog.Units
	widthMM, heightMM float64
	all               span
	scale             float64 // scale of the plan, 1 to this
	stretches         []span
	pages             []*page
}

func newDrafter(s *Set) *drafter {
	d := &drafter{s: s, sch: s.Schedule, course: s.Schedule.Course(), u: s.Units, widthMM: 420, heightMM: 297}
	scales := []float64{500, 1000, 2000, 2500, 5000, 10000, 20000, 25000, 50000, 100000}
	if d.u == catalog.US { // 11 by 17 in; feet to the inch
		d.widthMM, d.heightMM = 431.8, 279.4
		scales = []float64{600, 1200, 2400, 4800, 6000, 12000, 24000, 48000, 96000}
	}
	d.all = span{0, d.course.LengthM}
	for _, p := range d.sch.Posts {
		x := d.course.PastM(p.StationM)
		d.all.fromM, d.all.toM = math.Min(d.all.fromM, x), math.Max(d.all.toM, x)
	}
	pad := 0.02 * (d.all.toM - d.all.fromM)
	d.all = d.known(span{d.all.fromM - pad, d.all.toM + pad})
	for _, d.scale = range scales {
		if d.stretches = d.divide(d.scale); len(d.stretches) <= mostPlans {
			break
		}
	}
	d.evenOut()
	return d
}

// evenOut makes the stretches equally long where each still fits its plan, so that the last sheet
// is as full as the others.
func (d *drafter) evenOut() {
	n := len(d.stretches)
	even := make([]span, n)
	lengthM := (d.all.toM - d.all.fromM) / float64(n)
	for i := range even {
		even[i] = span{d.all.fromM + float64(i)*lengthM, d.all.fromM + float64(i+1)*lengthM}
		if i == n-1 {
			even[i].toM = d.all.toM
		}
		x := make([]float64, 1+int(math.Ceil(lengthM*1000/d.scale/3))) // each 3 mm
		for k := range x {
			x[k] = math.Min(even[i].fromM+3*d.scale/1000*float64(k), even[i].toM)
		}
		if v := d.view(even[i], append(x, even[i].toM), d.scale); !d.fits(&v) {
			return
		}
	}
	d.stretches = even
}

// fits reports whether a stretch leaves room for its marks on the plan.
func (d *drafter) fits(v *view) bool {
	b := d.planBox()
	return v.spreadMM(false) <= b.w-24 && v.spreadMM(true) <= b.h-44
}

// known is the part of a stretch with a known place on the map.
func (d *drafter) known(s span) span {
	const stepM = 10
	for s.fromM < 0 && !d.course.IsKnown(s.fromM) {
		s.fromM = math.Min(0, s.fromM+stepM)
	}
	for s.toM > d.course.LengthM && !d.course.IsKnown(s.toM) {
		s.toM = math.Max(d.course.LengthM, s.toM-stepM)
	}
	return s
}

// divide cuts the road into stretches that each fit the plan at a scale, rotated so that travel
// runs from left to right.
func (d *drafter) divide(scale float64) []span {
	stepM := 3 * scale / 1000 // 3 mm on paper
	var out []span
	for from := d.all.fromM; from < d.all.toM-1e-6 && len(out) <= mostPlans; {
		to := from
		var x []float64
		for at := from; ; at = math.Min(at+stepM, d.all.toM) {
			x = append(x, at)
			v := d.view(span{from, at}, x, scale)
			if len(x) > 2 && !d.fits(&v) {
				break
			}
			to = at
			if at >= d.all.toM {
				break
			}
		}
		out = append(out, span{from, to})
		from = to
	}
	if len(out) == 0 {
		out = []span{d.all}
	}
	return out
}

// box is a rectangle on paper.
type box struct{ x, y, w, h float64 }

func (d *drafter) planBox() box {
	return box{marginMM, marginMM, d.widthMM - 2*marginMM - columnMM, planMM}
}

func (d *drafter) profileBox() box {
	p := d.planBox()
	y := p.y + p.h
	return box{p.x, y, p.w, d.heightMM - marginMM - y}
}

// view is a stretch on paper: rotated and scaled, not yet moved to its box.
type view struct {
	originM     float64 // past the crest
	turn        float64 // of the map, counterclockwise, radians
	mmPerM      float64
	x           []float64 // past the crest
	at          []point   // on paper
	least, most point
	move        point
}

// view rotates a stretch so that its ends are level.
func (d *drafter) view(s span, x []float64, scale float64) view {
	v := view{originM: s.fromM, mmPerM: 1000 / scale, x: x}
	pts := d.course.PlanM(s.fromM, x)
	last := pts[len(pts)-1]
	if last[0] != 0 || last[1] != 0 {
		v.turn = -math.Atan2(last[1], last[0])
	}
	v.least, v.most = point{math.Inf(1), math.Inf(1)}, point{math.Inf(-1), math.Inf(-1)}
	for _, p := range pts {
		q := v.onPaper(p[0], p[1])
		v.at = append(v.at, q)
		v.least = point{math.Min(v.least.x, q.x), math.Min(v.least.y, q.y)}
		v.most = point{math.Max(v.most.x, q.x), math.Max(v.most.y, q.y)}
	}
	return v
}

// onPaper converts metres east and north of the origin to mm right and down.
func (v *view) onPaper(eastM, northM float64) point {
	sin, cos := math.Sincos(v.turn)
	return point{v.move.x + v.mmPerM*(eastM*cos-northM*sin), v.move.y - v.mmPerM*(eastM*sin+northM*cos)}
}

func (v *view) spreadMM(isDown bool) float64 {
	if isDown {
		return v.most.y - v.least.y
	}
	return v.most.x - v.least.x
}

// name is the name of the hill.
func (s *Set) name() string {
	if s.Schedule.Name != "" {
		return s.Schedule.Name
	}
	return s.Schedule.DescentID
}

// station writes a station as usual on drawings: hundreds of feet, or kilometres, before the plus.
func (d *drafter) station(stationM float64) string {
	per, digits, v := 1000.0, 3, stationM
	if d.u == catalog.US {
		per, digits, v = 100, 2, catalog.FtFromM(stationM)
	}
	sign := ""
	if v = math.Round(v); v < 0 {
		sign, v = "-", -v
	}
	return fmt.Sprintf("%s%.0f+%0*.0f", sign, math.Floor(v/per), digits, math.Mod(v, per))
}

// length writes a short length to a tenth of a foot or metre.
func (d *drafter) length(m float64) string {
	if d.u == catalog.US {
		return fmt.Sprintf("%.1f ft", catalog.FtFromM(m))
	}
	return fmt.Sprintf("%.1f m", m)
}

// unit is the unit of heights and stations, in metres.
func (d *drafter) unit() (m float64, name string) {
	if d.u == catalog.US {
		return catalog.FootM, "ft"
	}
	return 1, "m"
}

// roundStep is a round number that divides a length into at most n steps.
func roundStep(over float64, n int) float64 {
	raw := over / float64(n)
	p := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5} {
		if m*p >= raw {
			return m * p
		}
	}
	return 10 * p
}

// roundPart is a round number that fits n times into a length.
func roundPart(over float64, n int) float64 {
	raw := over / float64(n)
	p := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{5, 2.5, 2} {
		if m*p <= raw {
			return m * p
		}
	}
	return p
}
