package survey

import (
	"cmp"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/routes"
)

// steepPart is a steep part outside any descent as the catalogue keeps it.
func (res *Result) steepPart(p *routes.Profile, r *routes.Route, k routes.SteepPart, o *Options) catalog.SteepPart {
	if r.OneWay && k.Direction != r.OneWayDir {
		k.Flags = append(k.Flags, routes.FlagAgainstOneWay)
	}
	top, bottom := p.PointAt(k.StartM), p.PointAt(k.EndM)
	like := routes.Descent{Direction: k.Direction, StartM: k.StartM, EndM: k.EndM, CrestLonDeg: top[0], CrestLatDeg: top[1], FootLonDeg: bottom[0], FootLatDeg: bottom[1]}
	return catalog.SteepPart{SteepPart: k, Route: r.ID, Name: name(r, &like), Line: line(p, &like), Provenance: res.provenance(p, r, o, k.StartM, k.EndM)}
}

// briefParts keeps of steep parts only what SteepParts lists.
func briefParts(parts []catalog.SteepPart) []catalog.SteepPart {
	out := slices.Clone(parts)
	for i := range out {
		out[i].Line, out[i].Provenance = nil, catalog.Provenance{Invented: out[i].Provenance.Invented}
	}
	return out
}

// steepestParts keeps the steepest of many parts.
type steepestParts struct {
	found store.SteepParts
	count int
}

func (s *steepestParts) add(parts []catalog.SteepPart, possibleM float64) {
	s.count += len(parts)
	s.found.PossibleM += possibleM
	s.found.Parts = append(s.found.Parts, parts...)
	if len(s.found.Parts) > 2*MostListed {
		s.cut()
	}
}

func (s *steepestParts) cut() {
	slices.SortStableFunc(s.found.Parts, func(a, b catalog.SteepPart) int { return cmp.Compare(b.MeanDowngradePct, a.MeanDowngradePct) })
	if len(s.found.Parts) > MostListed {
		s.found.Parts = slices.Clone(s.found.Parts[:MostListed])
	}
}

// SteepParts lists the steepest parts outside any descent, at most MostListed, without their lines,
// and the number of all. It is empty for a job with KeepAll.
func (j *Job) SteepParts() (list store.SteepParts, found int) {
	j.steepest.cut()
	for i := range j.steepest.found.Parts {
		j.flagContradictedPart(&j.steepest.found.Parts[i].SteepPart, j.steepest.found.Parts[i].Route)
	}
	return j.steepest.found, j.steepest.count
}
