package synth

import "math"

// latticeM is the spacing of the stored coarse relief; features shorter than four spacings are
// added where they are needed.
const latticeM = 16.0

// reachM is the distance from the road up to which its cuts and fills are searched.
const reachM = 130.0

// ground is the fine surface: relief conformed to the roads, with their benches.
type ground struct {
	x0, y0     float64 // of lattice node 0,0
	cols, rows int
	base       []float32 // coarse relief plus corrections
	micro      []octave
	index      *roadIndex
	terrain    terrainParams
	canopyAt   field
	canopyTop  field
}

type octave struct {
	f    field
	ampM float64
}

func (o *octave) valueAt(x, y float64) float64 { return o.ampM * o.f.valueAt(x, y) }

// drawRelief returns the coarse octaves, h from 4 km to 64 m, whose gradients together have the
// given rms, and the micro-relief, h from 24 to 3 m.
func drawRelief(d dice, t *normals, p terrainParams) (coarse, micro []octave) {
	sum := 0.0
	for h := 4096.0; h >= 64; h /= 2 {
		a := math.Pow(h, p.hurst)
		sum += 2 * fieldSlope2 * a * a / (h * h)
		coarse = append(coarse, octave{newField(d, t, h), a})
	}
	for i := range coarse {
		coarse[i].ampM *= p.slopeRMS / math.Sqrt(sum)
	}
	for h := 24.0; h >= 3; h /= 2 {
		micro = append(micro, octave{newField(d, t, h), p.microRMS * h / math.Sqrt(2*fieldSlope2)})
	}
	return coarse, micro
}

// box is an area in the plane; nil means the area that the roads need.
type box struct{ west, south, east, north float64 }

func roadBox(roads []*alignment, padM float64) box {
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, a := range roads {
		for i := range a.x {
			b.west, b.east = math.Min(b.west, a.x[i]), math.Max(b.east, a.x[i])
			b.south, b.north = math.Min(b.south, a.y[i]), math.Max(b.north, a.y[i])
		}
	}
	return box{b.west - padM, b.south - padM, b.east + padM, b.north + padM}
}

func newGround(seed uint64, p terrainParams, roads []*alignment, area *box) *ground {
	d := newDice(seed, streamTerrain)
	t := newNormals(d)
	coarse, micro := drawRelief(d, t, p)
	b := roadBox(roads, 800)
	if area != nil {
		b = *area
	}
	g := &ground{x0: b.west, y0: b.south, micro: micro, terrain: p,
		cols:      int((b.east-b.west)/latticeM) + 2,
		rows:      int((b.north-b.south)/latticeM) + 2,
		canopyAt:  newField(d, t, 350),
		canopyTop: newField(d, t, 6),
	}
	g.base = make([]float32, g.cols*g.rows)
	for j := 0; j < g.rows; j++ {
		for i := 0; i < g.cols; i++ {
			v := 0.0
			for k := range coarse {
				v += coarse[k].valueAt(g.x0+float64(i)*latticeM, g.y0+float64(j)*latticeM)
			}
			g.base[j*g.cols+i] = float32(v)
		}
	}
	g.index = newRoadIndex(roads)
	g.conform(roads, newField(d, t, 130))
	return g
}

// natural is the conformed relief without the road's own earthworks.
func (g *ground) natural(x, y float64, octaves []octave) float64 {
	v := bilinear(g.base, g.cols, g.rows, (x-g.x0)/latticeM, (y-g.y0)/latticeM)
	for k := range octaves {
		v += octaves[k].valueAt(x, y)
	}
	return v
}

func bilinear(v []float32, cols, rows int, x, y float64) float64 {
	i := int(clamp(math.Floor(x), 0, float64(cols-2)))
	j := int(clamp(math.Floor(y), 0, float64(rows-2)))
	u, w := x-float64(i), y-float64(j)
	k := j*cols + i
	return (1-w)*((1-u)*float64(v[k])+u*float64(v[k+1])) + w*((1-u)*float64(v[k+cols])+u*float64(v[k+cols+1]))
}

// octavesFor leaves out relief that is too fine for a sample spacing.
func (g *ground) octavesFor(spacingM float64) []octave {
	n := 0
	for n < len(g.micro) && g.micro[n].f.h > 0.8*spacingM {
		n++
	}
	return g.micro[:n]
}

// at returns the fine surface at (x, y), from the candidates of the index for a block that holds
// the point; none means that no road is near.
func (g *ground) valueAt(x, y float64, octaves []octave, near []int32) float64 {
	z := g.natural(x, y, octaves)
	if len(near) == 0 {
		return z
	}
	n := g.index.nearest(x, y, near)
	if n.distM > reachM {
		return z
	}
	// the rest that the lattice could not represent fades over 25 m
	z += n.residualM * math.Exp(-pow2(n.distM/25))
	if n.free {
		return g.withCanopy(z, x, y, n.distM-n.benchM)
	}
	out := n.distM - n.benchM
	if out <= 0 {
		return n.elevM
	}
	ease := 0.01 * pow2(math.Max(0, out-50)) // slopes have an end
	z = clamp(z, n.elevM-g.terrain.fillSlope*out-ease, n.elevM+g.terrain.cutSlope*out+ease)
	return g.withCanopy(z, x, y, out)
}

// withCanopy adds trees over 30 % of the area, none within 1 m of the bench.
func (g *ground) withCanopy(z, x, y, outM float64) float64 {
	if !g.terrain.canopy || outM < 1 || g.canopyAt.valueAt(x, y) < 0.524 { // P(N > .524) = .30
		return z
	}
	return z + clamp(8+3*g.canopyTop.valueAt(x, y), 2, 14)
}
