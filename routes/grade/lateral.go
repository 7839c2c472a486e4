package grade

import "math"

const (
	lateralCap       = 9.0  // cost of a height that fits no road, and of a miss
	lateralCrossMax  = 0.06 // a road's own cross-fall with superelevation stays under
	lateralCrossSpan = 3.0  // metres each side
	lateralFlatFine  = 60.0 // per metre of departure; 1 m: RMSE off structures .241/.226/.218/.196/.197 for 8/15/25/60/120
	lateralFlatCost  = 15.0 // above 3 m cells; 10 m: .527/.525/.589/.583 for 8/15/25/40
	lateralFlatMaxM  = 1.2
	lateralHomeM     = 5.0   // sd of the drawn line's error
	lateralCorrM     = 180.0 // over this length
	lateralMove      = 0.07  // sd of the offset's change per metre
	lateralMaxMove   = 0.4
)

// lateral finds the offset along the line by dynamic programming.
type lateral struct {
	cost, next []float64
	unary      []float64
	from       []int8
	flat       []float32 // departure from a road's cross-section, by station and column
}

// flatten computes once the values that every path needs for each station and column.
func (l *lateral) flatten(sec *section) {
	do := sec.offsetM[1] - sec.offsetM[0]
	span := max(1, int(math.Round(lateralCrossSpan/do)))
	if cap(l.flat) < sec.n*sec.cols {
		l.flat = make([]float32, sec.n*sec.cols)
	}
	l.flat = l.flat[:sec.n*sec.cols]
	for i := 0; i < sec.n; i++ {
		row := sec.z[i*sec.cols : (i+1)*sec.cols]
		for c := range row {
			l.flat[i*sec.cols+c] = float32(flatness(row, c, span, do))
		}
	}
}

// path writes into index the best offset's column at each station, given a
// stiff pilot line x, or none; flatten comes first.
func (l *lateral) path(sec *section, p *problem, x []float64, index []int32, rough []float64) {
	n, dx, cols := p.n, p.stepM, sec.cols
	do := sec.offsetM[1] - sec.offsetM[0]
	reach := max(1, int(math.Ceil(lateralMaxMove*dx/do)))
	l.cost, l.next, l.unary = sized(l.cost, cols), sized(l.next, cols), sized(l.unary, cols)
	if cap(l.from) < n*cols {
		l.from = make([]int8, n*cols+n*cols/4)
	}
	l.from = l.from[:n*cols]
	step := do * do / (2 * (lateralMove * dx) * (lateralMove * dx))
	for i := 0; i < n; i++ {
		l.station(sec, p, x, i)
		if i == 0 {
			copy(l.next, l.unary)
		} else {
			l.advance(l.from[i*cols:(i+1)*cols], reach, step)
		}
		l.cost, l.next = l.next, l.cost
	}
	at := 0
	for c := range l.cost {
		if l.cost[c] < l.cost[at] {
			at = c
		}
	}
	for i := n - 1; i >= 0; i-- {
		index[i] = int32(at)
		rough[i] = float64(l.flat[i*cols+at])
		if i > 0 {
			at += int(l.from[i*cols+at])
		}
	}
}

// station sets the cost of each column of a station, without that of changes.
func (l *lateral) station(sec *section, p *problem, x []float64, i int) {
	dx, cols, offsetM := p.stepM, sec.cols, sec.offsetM
	row, flats := sec.z[i*cols:(i+1)*cols], l.flat[i*cols:(i+1)*cols]
	home := min(1, 2*dx/lateralCorrM) / (lateralHomeM * lateralHomeM)
	s := max(p.sigmaM, sigmaFloorM)
	flat := lateralFlatCost
	if p.cellM <= flatFirstMaxCellM {
		flat = lateralFlatFine
	}
	base := 0.0
	if x != nil {
		base = x[i] + sec.refM
	}
	thr := 1 / (s * s * p.rel[i] * p.rel[i])
	for c, z32 := range row {
		z := float64(z32)
		u := lateralCap
		if z == z {
			u = 0
			if x != nil {
				u = min(lateralCap, (z-base)*(z-base)*thr)
			}
			u += flat * float64(flats[c])
		}
		l.unary[c] = u + offsetM[c]*offsetM[c]*home
	}
}

// advance sets next to the least cost of each column from the costs at the previous station, and
// from to the column that it came from.
func (l *lateral) advance(from []int8, reach int, step float64) {
	cols := len(from)
	for c := 0; c < cols; c++ {
		best, bi := math.Inf(1), c
		for k := max(0, c-reach); k <= min(cols-1, c+reach); k++ {
			if v := l.cost[k] + float64((k-c)*(k-c))*step; v < best {
				best, bi = v, k
			}
		}
		l.next[c] = best + l.unary[c]
		from[c] = int8(bi - c)
	}
}

func sized(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n+n/4)[:n]
	}
	return s[:n]
}

// flatness is how far a cross-section is from a road's, metres: the rms
// departure from the best line across that a road's cross-fall allows.
func flatness(row []float32, c, span int, do float64) float64 {
	mid := float64(row[c])
	var m, sz, szz, sx, sxx, sxz float64
	for k := max(0, c-span); k <= min(len(row)-1, c+span); k++ {
		z := float64(row[k]) - mid
		if z != z {
			continue
		}
		x := float64(k-c) * do
		m++
		sz += z
		szz += z * z
		sx += x
		sxx += x * x
		sxz += x * z
	}
	if m == 0 {
		return lateralFlatMaxM
	}
	vxx, vxz := sxx-sx*sx/m, sxz-sx*sz/m
	b := 0.0
	if vxx > 0 {
		b = max(-lateralCrossMax, min(lateralCrossMax, vxz/vxx))
	}
	ms := max(0, szz-sz*sz/m-2*b*vxz+b*b*vxx) / m
	return min(lateralFlatMaxM, math.Sqrt(ms))
}
