package stationing

import (
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// A stray vertex is far from its road: the line jumps there and back. Our own choices: the vertices
// of a road have about the same spacing, so a jump is many times the usual length; a hairpin drawn
// at that spacing has vertices in its bend, and a road out and back meets itself.
const (
	strayM, straySegments       = 500.0, 20.0  // least length of both legs of one vertex, and in usual segments
	strayPartM, strayPartUsuals = 3000.0, 50.0 // the same where several vertices stray together
	strayEndM, strayEndSegments = 50e3, 100.0  // and of the one leg of a line's first or last vertex
	strayShare                  = 0.3          // of a leg, that the vertices on either side may be apart at most
	mostStrayTogether           = 50
	strayAnywayM                = 50e3 // legs of both sides, whatever is usual
	leastForStray               = 5    // vertices, or nothing is usual
)

// stray is a vertex, or several in a row, that the line jumps to and back from.
type stray struct {
	first, last int // places in the list of kept vertices
	offM        float64
}

// dropStrays removes stray vertices from a line's kept ones and says where they are.
func dropStrays(raw orb.LineString, keep []int) (out []int, notes []string) {
	found := strays(raw, keep)
	if len(found) == 0 {
		return keep, nil
	}
	next := 0
	for _, s := range found {
		out = append(out, keep[next:s.first]...)
		next = s.last + 1
		p := raw[keep[s.first]]
		what := fmt.Sprintf("its vertex %d", keep[s.first]+1)
		if s.last > s.first {
			what = fmt.Sprintf("its vertices %d to %d", keep[s.first]+1, keep[s.last]+1)
		}
		notes = append(notes, fmt.Sprintf("%s at longitude %.6f, latitude %.6f: the line jumps %s there; left out as a stray, check the road there", what, p[0], p[1], distanceWords(s.offM)))
	}
	return append(out, keep[next:]...), notes
}

func distanceWords(m float64) string {
	if m >= 10e3 {
		return fmt.Sprintf("%.0f km", m/1000)
	}
	return fmt.Sprintf("%.1f km", m/1000)
}

// strays finds them, in the order of the line.
func strays(raw orb.LineString, keep []int) []stray {
	n := len(keep)
	if n < 3 {
		return nil
	}
	legs := make([]float64, n-1) // from one kept vertex to the next
	longest := 0.0
	for k := range legs {
		legs[k] = lengthM(raw[keep[k]], raw[keep[k+1]])
		longest = max(longest, legs[k])
	}
	if longest < strayM {
		return nil
	}
	sorted := slices.Clone(legs)
	slices.Sort(sorted)
	usualM := sorted[(len(sorted)-1)/2] // the lower of two: the jumps may be half of a few legs
	if n < leastForStray {
		usualM = math.Inf(1)
	}
	leastM := max(strayM, min(straySegments*usualM, strayAnywayM))
	if longest < leastM {
		return nil
	}
	var out []stray
	apartM := func(a, b int) float64 { return lengthM(raw[keep[a]], raw[keep[b]]) }
	endM := max(strayEndM, strayEndSegments*usualM)
	if legs[0] >= endM {
		out = append(out, stray{0, 0, legs[0]})
	}
	for k := len(out); k < n-1; k++ {
		if legs[k] < leastM {
			continue
		}
		if s, ok := strayFrom(legs, k, leastM, usualM, apartM); ok {
			out = append(out, s)
			k = s.last
		}
	}
	if last := n - 1; legs[last-1] >= endM && (len(out) == 0 || out[len(out)-1].last < last-1) {
		out = append(out, stray{last, last, legs[last-1]})
	}
	return out
}

// strayFrom looks for the way back from a jump in leg k.
func strayFrom(legs []float64, k int, leastM, usualM float64, apartM func(a, b int) float64) (stray, bool) {
	for j := k + 1; j < len(legs) && j-k <= mostStrayTogether; j++ {
		if j > k+1 {
			leastM = max(strayPartM, min(strayPartUsuals*usualM, strayAnywayM))
		}
		shorterM := min(legs[k], legs[j])
		if shorterM < leastM {
			continue
		}
		gapM := apartM(k, j+1)
		isRetrace := gapM <= meetM && shorterM < strayEndM // a road driven out and back
		if gapM <= strayShare*shorterM && !isRetrace {
			return stray{k + 1, j, shorterM}, true
		}
	}
	return stray{}, false
}
