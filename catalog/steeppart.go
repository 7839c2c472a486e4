package catalog

import "gradeline/routes"

// SteepPart is a steep part of a road outside any descent, as the catalogue stores it. Line runs
// down it in travel, with the grade line's height and station of each vertex. There is no advice
// for it: it is too short for a descent, but may need a sign.
type SteepPart struct {
	routes.SteepPart
	Route      string     `json:"route"`
	Name       string     `json:"name"`
	Line       []Vertex   `json:"-"`
	Provenance Provenance `json:"provenance"`
}

// HasFlag reports whether the part carries flag f.
func (p *SteepPart) HasFlag(f string) bool {
	for _, x := range p.Flags {
		if x == f {
			return true
		}
	}
	return false
}
