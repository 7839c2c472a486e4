package survey

import (
	"context"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"

	"gonum.org/v1/gonum/stat"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/routes"
)

// The kinds of what drives find wrong.
const (
	FindingLine      = "line"      // the line lies beside the road
	FindingStructure = "structure" // the ground is not the road, and nothing says so
	FindingSign      = "sign"      // a grade sign that is not true
)

// DriveFinding is a thing that drives say against the line, the raster or a sign.
type DriveFinding struct {
	Kind  string  `json:"kind"`
	FromM float64 `json:"from_m"` // stations along the line
	ToM   float64 `json:"to_m"`
	Words string  `json:"words"`
}

const (
	findLeastDrives = 2     // one receiver may be off for minutes
	lineCellM       = 100.0 // offsets are averaged over this
	lineLeastM      = 200.0

	// A line is wrong from lineOffM on: the other lane is 4 m away. Receivers are off by 4 m and
	// more for a minute (common practice, no source), and the
	// middle of several by 1.25 times their mean's error (of normal errors, from memory).
	lineOffM       = 8.0
	receiverM      = 4.0
	middleShare    = 1.25
	receiversApart = 1.5 // times receiverM: then these are worse ones; three good ones differ so much in a tenth of cases
	lineDeviation  = 2.0 // standard deviations beyond lineOffM

	structureLeastM  = 40.0
	structureSigmas  = 4.0 // of the raster's error
	structureHeightM = 4.0 // and at least this
)

// find lists what the drives of a descent find wrong.
func (s *DrivesSay) find(passes []catalog.DrivePass, p *routes.Profile, d *routes.Descent, signs []catalog.Site) {
	lo, hi := min(d.StartM, d.EndM), max(d.StartM, d.EndM)
	s.Findings = append([]DriveFinding{}, lineFindings(passes, d.Route, lo, hi)...)
	if s.fused != nil && s.Used >= findLeastDrives {
		s.Findings = append(s.Findings, structureFindings(p, s.fused, s.Used, lo, hi)...)
		s.Findings = append(s.Findings, s.signFindings(d, signs)...)
	}
}

// lineFindings are the stretches on which the drives agree that the road is not where the line is.
func lineFindings(passes []catalog.DrivePass, route string, loM, hiM float64) []DriveFinding {
	off, limit, drives := offsetsByCell(passes, route, loM, hiM)
	n := len(off)
	var out []DriveFinding
	for from := 0; from < n; {
		to := from
		for to < n && math.Abs(off[to]) >= limit[to] && off[to]*off[from] > 0 {
			to++
		}
		if to == from {
			from++
			continue
		}
		if a, b := loM+float64(from)*lineCellM, min(hiM, loM+float64(to)*lineCellM); b-a >= lineLeastM {
			side, by := "right", stat.Mean(off[from:to], nil)
			if by < 0 {
				side = "left"
			}
			out = append(out, DriveFinding{FindingLine, a, b, fmt.Sprintf("%d drives ran about %.0f m to the %s of the line (in forward travel) from station %.0f to %.0f m: check the line there", slices.Min(drives[from:to]), math.Abs(by), side, a, b)})
		}
		from = to
	}
	return out
}

// offsetsByCell are the offsets on which the drives agree, what they must reach, and the numbers of the
// drives, each lineCellM; offsets are 0 where fewer than two drives have any.
func offsetsByCell(passes []catalog.DrivePass, route string, loM, hiM float64) (off, limit []float64, drives []int) {
	n := int((hiM-loM)/lineCellM) + 1
	cells := make([]map[int64][]float64, n) // offsets by drive
	for i := range passes {
		if passes[i].Route != route {
			continue
		}
		for _, f := range passes[i].Fixes {
			if k := int((f.StationM - loM) / lineCellM); f.StationM >= loM && k < n {
				if cells[k] == nil {
					cells[k] = map[int64][]float64{}
				}
				cells[k][passes[i].Number] = append(cells[k][passes[i].Number], f.OffM)
			}
		}
	}
	off, limit, drives = make([]float64, n), make([]float64, n), make([]int, n)
	for k, byDrive := range cells {
		off[k], limit[k] = agreedOffset(byDrive)
		drives[k] = len(byDrive)
	}
	return off, limit, drives
}

// agreedOffset is that of the middle drive; of two, that of the one nearer to the line. From limitM on
// the line is wrong.
func agreedOffset(byDrive map[int64][]float64) (offM, limitM float64) {
	var each []float64
	for _, list := range byDrive {
		each = append(each, stat.Mean(list, nil))
	}
	if len(each) < findLeastDrives {
		return 0, lineOffM
	}
	slices.Sort(each)
	offM = each[(len(each)-1)/2]
	if len(each) == 2 && math.Abs(each[1]) < math.Abs(offM) {
		offM = each[1]
	}
	sd := receiverM
	if more := stat.StdDev(each, nil); more > receiversApart*receiverM {
		sd = more
	}
	return offM, lineOffM + lineDeviation*middleShare*sd/math.Sqrt(float64(len(each)))
}

// structureFindings are the stretches on which the ground is far from the road that was driven.
func structureFindings(p, fused *routes.Profile, drives int, loM, hiM float64) (out []DriveFinding) {
	limit := max(structureHeightM, structureSigmas*p.Noise.SigmaM)
	first, last := p.IndicesBetween(loM, hiM)
	for i := first; i <= last; {
		j, most := i, 0.0
		for j <= last {
			by := p.GroundM[j] - fused.ElevationM[j]
			if math.IsNaN(by) || p.State[j] != routes.Measured || math.Abs(by) < limit || most*by < 0 {
				break
			}
			if math.Abs(by) > math.Abs(most) {
				most = by
			}
			j++
		}
		if j == i {
			i++
			continue
		}
		if a, b := p.StationM(i), p.StationM(j-1); b-a >= structureLeastM {
			what, where := "bridge or fill", "below"
			if most > 0 {
				what, where = "tunnel or cut", "above"
			}
			out = append(out, DriveFinding{FindingStructure, a, b, fmt.Sprintf("the raster's ground is up to %.0f m %s the road of %d drives from station %.0f to %.0f m: a %s that the line does not name?", math.Abs(most), where, drives, a, b, what)})
		}
		i = j
	}
	return out
}

// statedGrade finds the grade in the words of a sign.
var statedGrade = regexp.MustCompile(`(\d{1,2}(?:\.\d)?)\s*%`)

// signSlackPct is the rounding of a sign; common practice, no source.
const signSlackPct = 0.5

// signFindings are the grade signs of a descent whose figure is neither its mean nor that of a steep
// stretch.
func (s *DrivesSay) signFindings(d *routes.Descent, signs []catalog.Site) (out []DriveFinding) {
	const aheadM = 1500.0 // of the crest
	forward := 1.0
	if d.Direction == routes.Backward {
		forward = -1
	}
	for i := range signs {
		sign := &signs[i]
		m := statedGrade.FindStringSubmatch(sign.Legend)
		if m == nil || sign.StationM == nil || sign.Route != d.Route || sign.Direction != "" && sign.Direction != d.Direction.String() {
			continue
		}
		along := forward * (*sign.StationM - d.StartM)
		if along < -aheadM || along > d.LengthM {
			continue
		}
		states, _ := strconv.ParseFloat(m[1], 64) // the pattern is a number
		fromM := d.StartM + forward*max(0, along)
		steepest, errPct := s.steepestFrom(fromM, d.EndM)
		least := s.MeanDowngradePct - s.MeanDowngradeErrPct - signSlackPct
		most := steepest + errPct + signSlackPct
		how := ""
		switch {
		case states < least:
			how = "less than the hill's mean"
		case states > most:
			how = "more than its steepest 100 m"
		default:
			continue
		}
		out = append(out, DriveFinding{FindingSign, *sign.StationM, *sign.StationM, fmt.Sprintf("the sign at station %.0f m says %s %%, %s: terrain and %d drives say a mean of %s and at most %s over 100 m ahead of it", *sign.StationM, m[1], how, s.Used,
			catalog.GradeWithBound(s.MeanDowngradePct, s.MeanDowngradeErrPct), catalog.GradeWithBound(steepest, errPct))})
	}
	return out
}

// steepestFrom is the steepest mean downgrade over 100 m between two stations in travel.
func (s *DrivesSay) steepestFrom(fromM, toM float64) (pct, errPct float64) {
	const overM, stepM = 100.0, 20.0
	lo, hi := min(fromM, toM), max(fromM, toM)
	down := 1.0
	if toM < fromM {
		down = -1
	}
	for a := lo; a+overM <= hi; a += stepM {
		if g := down * (s.fused.ElevationAtM(a) - s.fused.ElevationAtM(a+overM)) / overM * 100; g > pct {
			pct, errPct = g, s.fused.MeanErrPct(a, a+overM)
		}
	}
	return pct, errPct
}

// SayAllDrives compares the kept drives with every descent that they pass over.
func SayAllDrives(ctx context.Context, cat *store.Catalog) ([]DrivesSay, error) {
	passes, err := cat.Drives(ctx, "", false)
	if err != nil || len(passes) == 0 {
		return nil, err
	}
	es, err := cat.Descents(ctx, store.Filter{NoHolds: true})
	if err != nil {
		return nil, err
	}
	over := map[string]bool{}
	for i := range passes {
		over[passes[i].Route] = true
	}
	var out []DrivesSay
	for i := range es {
		if !over[es[i].Descent.Route] {
			continue
		}
		say, err := SayDrives(ctx, cat, &es[i])
		if err != nil {
			return nil, err
		}
		if say != nil {
			out = append(out, *say)
		}
	}
	return out, nil
}

// Words are what the drives say, in sentences.
func (s *DrivesSay) Words() []string {
	var out []string
	switch {
	case s.Used == 0:
		out = append(out, fmt.Sprintf("%d recorded drives pass over it and none agrees with the road", s.Drives))
	case s.ContradictsWhy == "":
		out = append(out, fmt.Sprintf("terrain and %d of %d recorded drives say a mean downgrade of %s, which agrees", s.Used, s.Drives, catalog.GradeWithBound(s.MeanDowngradePct, s.MeanDowngradeErrPct)))
	}
	if s.ContradictsWhy != "" {
		out = append(out, "CONTRADICTED: "+s.ContradictsWhy)
	}
	for _, f := range s.Findings {
		out = append(out, f.Words)
	}
	return out
}

// IsAgainst reports whether the drives contradict anything.
func (s *DrivesSay) IsAgainst() bool {
	return s.Used == 0 || s.ContradictsWhy != "" || len(s.Findings) > 0
}
