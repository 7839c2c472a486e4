package grade

import (
	"math"
	"testing"

	"gradeline/routes"
)

// gorge is a road whose ground lies riseM lower than a cell to either side, and is
// raised by the cells' averaging as blurShare says.
func gorge(z []float64, stepM, cellM, riseM float64) *routes.Ground {
	g := lineGround(z, stepM, cellM)
	g.OffsetM, g.SectionM = []float64{-cellM, 0, cellM}, nil
	lift := 2 * blurShare * riseM / (1 + 2*blurShare) // of the middle, so that the rest is 2·riseM less 2·lift
	for _, v := range z {
		g.SectionM = append(g.SectionM, float32(v+riseM), float32(v+lift), float32(v+riseM))
	}
	return g
}

// Where a void begins beside the road, what averaging added to the road's own heights
// does not end: the grade line stays as if the neighbours were there. Taken for
// nothing, it put a step into the line and 1,000 m means off by up to a point.
func TestAVoidBesideTheRoadIsNoStepInIt(t *testing.T) {
	for _, cellM := range []float64{30, 90} {
		stepM := stepFromCell(cellM)
		z := spoil(heights(stepM, leg{8000, -4, 0}), stepM, cellM, 1, 2)
		want := mustRecover(t, gorge(z, stepM, cellM, 40), Options{})
		for name, void := range map[string]func(atM float64) bool{
			"from half way on": func(atM float64) bool { return atM > 4000 },
			"to half way":      func(atM float64) bool { return atM < 4000 },
			"in the middle":    func(atM float64) bool { return atM > 3000 && atM < 5000 },
		} {
			g := gorge(z, stepM, cellM, 40)
			for i := range z {
				if void(float64(i) * stepM) {
					g.SectionM[3*i] = float32(math.NaN())
				}
			}
			got := mustRecover(t, g, Options{})
			for i, h := range want.ElevationM {
				if math.Abs(got.ElevationM[i]-h) > 0.01 {
					t.Errorf("%g m cells, a void %s: %.2f m at %.0f m, want %.2f", cellM, name, got.ElevationM[i], got.StationM(i), h)
					break
				}
			}
		}
	}
}

// The gaps of what averaging added are filled evenly, and the same from both ends.
func TestBlurIsBridgedTheSameFromBothEnds(t *testing.T) {
	nan := float32(math.NaN())
	for _, c := range []struct{ blur, want []float32 }{
		{[]float32{nan, 1, nan, nan, 4, nan}, []float32{1, 1, 2, 3, 4, 4}},
		{[]float32{nan, nan, nan}, []float32{0, 0, 0}},
		{[]float32{2, nan, 1}, []float32{2, 1.5, 1}},
	} {
		n := len(c.blur)
		there, back := section{n: n}, section{n: n}
		for i := range n {
			there.blur, back.blur = append(there.blur, c.blur[i]), append(back.blur, c.blur[n-1-i])
		}
		there.bridgeBlur()
		back.bridgeBlur()
		for i, w := range c.want {
			if there.blur[i] != w || back.blur[n-1-i] != w {
				t.Errorf("%v: %v and %v from the other end, want %v", c.blur, there.blur, back.blur, c.want)
				break
			}
		}
	}
}
