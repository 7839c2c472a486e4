package grade

import (
	"math"
	"math/rand/v2"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// A quick generator in road coordinates (station, offset): vertical alignment
// by design practice, a bench in cut and fill, bridges and tunnels of which
// half are flagged, a drawn line beside the road, noise by cell size.

type roadCase struct {
	truth   []float64 // road height at each station
	struc   []routes.Structure
	ground  *routes.Ground
	roadOff []float64 // where the road lies from the drawn line
}

// ar gives a correlated series of n values, sd 1, by an AR(1) run twice.
func ar(r *rand.Rand, n int, corr float64) []float64 {
	if corr <= 0 {
		corr = 1e-9
	}
	f := math.Exp(-2 / corr)
	out := make([]float64, n)
	a, b := r.NormFloat64(), r.NormFloat64()
	var ss float64
	for i := 0; i < n; i++ {
		a = f*a + math.Sqrt(1-f*f)*r.NormFloat64()
		b = f*b + (1-f)*a
		out[i] = b
		ss += b * b
	}
	sd := math.Sqrt(ss/float64(n)) + 1e-12
	for i := range out {
		out[i] /= sd
	}
	return out
}

type genOptions struct {
	cell       float64
	lengthM    int
	structures bool
	noise      float64 // factor
	wanderM    float64 // <0: by seed
	benchM     float64 // half-width, 0: by seed
	noFlags    bool
}

var noiseByCell = map[float64][2]float64{1: {0.15, 40}, 10: {1, 60}, 30: {2.5, 120}, 90: {4, 300}}

func stepFromCell(c float64) float64 { return math.Max(5, math.Min(30, c/2)) }

func makeRoad(seed uint64, o genOptions) *roadCase {
	r := rand.New(rand.NewPCG(seed, 20))
	dx := stepFromCell(o.cell)
	n := int(float64(o.lengthM)/dx) + 1
	length := float64(n-1) * dx
	const fine = 5.0
	pad := int(2*o.cell/fine) + 2
	m := int(length/fine) + 1 + 2*pad
	g := alignment(r, int(fine)*m)
	road := make([]float64, m)
	h := 300 + 900*r.Float64()
	for i := 0; i < m; i++ {
		road[i] = h
		for k := 0; k < int(fine); k++ {
			h += g[i*int(fine)+k]
		}
	}
	rc := &roadCase{}
	extra := make([]float64, m)
	inS := make([]bool, m)
	if o.structures {
		for s := 500 + r.ExpFloat64()*3000; s < length-900; s += 600 + r.ExpFloat64()*3000 {
			st := routes.Structure{FromM: s}
			var l, hgt float64
			if r.Float64() < 0.5 {
				l = math.Exp(math.Log(25) + r.Float64()*math.Log(800.0/25))
				hgt = -math.Min(90, 4+l*(0.05+0.2*r.Float64()))
				st.Kind = routes.Bridge
			} else {
				l = math.Exp(math.Log(80) + r.Float64()*math.Log(3000.0/80))
				hgt = math.Min(300, 12+l*(0.05+0.2*r.Float64()))
				st.Kind = routes.Tunnel
			}
			st.ToM = s + l
			if st.ToM > length-300 {
				break
			}
			p := 0.4 + 0.8*r.Float64()
			for i := int(s / fine); i <= int((s+l)/fine); i++ {
				u := (float64(i)*fine - s) / l
				if u <= 0 || u >= 1 || i+pad >= m {
					continue
				}
				extra[i+pad] = hgt * math.Pow(math.Sin(math.Pi*u), p)
				inS[i+pad] = true
			}
			if r.Float64() < 0.5 && !o.noFlags {
				f := st
				f.FromM += 16*r.Float64() - 8
				f.ToM += 16*r.Float64() - 8
				f.Flagged = true
				rc.struc = append(rc.struc, f)
			}
			s += l
		}
	}
	cf := ar(r, m, 130/fine)
	cfSD := 0.8 + 2.7*r.Float64()
	q := ar(r, m, 200/fine)
	qSD := 0.1 + 0.32*r.Float64()
	curv := ar(r, m, 250/fine)
	micro := ar(r, m, 30/fine)
	bench := 3.5 + 8.5*r.Float64()
	if o.benchM > 0 {
		bench = o.benchM
	}
	cut, fill := 0.8+0.8*r.Float64(), 0.5+0.17*r.Float64()
	height := func(i int, off float64) float64 {
		nat := road[i] + cf[i]*cfSD + extra[i] + math.Max(-0.6, math.Min(0.6, q[i]*qSD))*off + 0.5*8e-4*curv[i]*off*off + 0.4*micro[i]
		if inS[i] {
			return nat
		}
		a := math.Abs(off)
		if a <= bench {
			return road[i]
		}
		if nat > road[i] {
			return math.Min(nat, road[i]+(a-bench)*cut)
		}
		return math.Max(nat, road[i]-(a-bench)*fill)
	}
	wander := ar(r, m, 180/fine)
	wSD, wConst := 1+3.5*r.Float64(), 2*r.NormFloat64()
	if o.wanderM >= 0 {
		wSD, wConst = o.wanderM*0.8, o.wanderM*0.5
	}
	offs := []float64{0}
	if o.cell <= 3 {
		offs = offs[:0]
		for c := -16.0; c <= 16; c++ {
			offs = append(offs, c)
		}
	} else if o.cell <= 15 {
		offs = offs[:0]
		for c := -16.0; c <= 16; c += 2 {
			offs = append(offs, c)
		}
	}
	// Terrain over (fine station, offset) smoothed by the cell across, then along.
	cols := len(offs)
	field := make([]float64, m*cols)
	half := 1.4 * o.cell
	dOff := math.Max(0.5, math.Min(4, o.cell/4))
	for i := 0; i < m; i++ {
		for c, off := range offs {
			at := off + wSD*wander[i] + wConst
			var sw, sz float64
			for d := -math.Floor(half/dOff) * dOff; d <= half; d += dOff {
				k := 1 - math.Abs(d)/half
				sw += k
				sz += k * height(i, at+d)
			}
			field[i*cols+c] = sz / sw
		}
	}
	nz := noiseByCell[o.cell]
	sd := nz[0] * o.noise
	corr := ar(r, m, nz[1]/fine)
	white := make([]float64, (int(float64(m)*fine/o.cell)+3)*(int(80/o.cell)+3))
	for i := range white {
		white[i] = r.NormFloat64()
	}
	wc := int(80/o.cell) + 3
	phase := r.Float64()
	noise := func(i, c int) float64 {
		a, b := float64(i)*fine/o.cell, (offs[c]+40)/o.cell+phase
		ia, ib := int(a), int(b)
		fa, fb := a-float64(ia), b-float64(ib)
		w := func(x, y int) float64 { return white[x*wc+y] }
		v := (1-fa)*((1-fb)*w(ia, ib)+fb*w(ia, ib+1)) + fa*((1-fb)*w(ia+1, ib)+fb*w(ia+1, ib+1))
		return sd * (math.Sqrt(0.3)*v + math.Sqrt(0.7)*corr[i])
	}
	gr := &routes.Ground{StepM: dx, LengthM: length, OffsetM: offs, Structures: rc.struc}
	reach := int(half / fine)
	for i := 0; i < n; i++ {
		fi := pad + int(math.Round(float64(i)*dx/fine))
		rc.truth = append(rc.truth, road[fi])
		rc.roadOff = append(rc.roadOff, -(wSD*wander[fi] + wConst))
		gr.Points = append(gr.Points, orb.Point{float64(i) * 1e-4, 45})
		gr.CellM = append(gr.CellM, float32(o.cell))
		gr.RadiusM = append(gr.RadiusM, math.Inf(1))
		gr.Miss = append(gr.Miss, 0)
		gr.Source = append(gr.Source, 0)
		for c := range offs {
			var sw, sz float64
			for d := -reach; d <= reach; d++ {
				k := 1 - math.Abs(float64(d)*fine)/half
				sw += k
				sz += k * field[(fi+d)*cols+c]
			}
			gr.SectionM = append(gr.SectionM, float32(sz/sw+noise(fi, c)))
		}
	}
	rc.ground = gr
	return rc
}

// gradeSquares sums squared errors of 100 m mean grades, points of per cent.
func gradeSquares(truth, x []float64, dx float64) (ss float64, m int) {
	k := int(math.Round(100 / dx))
	for i := 0; i+k < len(x); i++ {
		e := 100 * ((x[i+k] - x[i]) - (truth[i+k] - truth[i])) / (float64(k) * dx)
		if math.IsNaN(e) {
			continue
		}
		ss += e * e
		m++
	}
	return ss, m
}
