package survey

import (
	"gradeline/catalog"
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
