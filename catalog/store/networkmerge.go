package store

import (
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
)

// networkRoads copies the roads of a network that the target does not have, row by row.
func (m *merger) networkRoads() error {
	var n Network
	if err := n.read(m.src); err != nil || len(n.Roads) == 0 {
		return err
	}
	var have []string
	if err := gpkg.Each(m.dst.file, scanText(&have), "SELECT road FROM network_roads"); err != nil {
		return err
	}
	ours, theirs := make([]RouteRecord, len(have)), make([]string, len(n.Roads))
	for i, id := range have {
		ours[i].ID = id
	}
	for i := range n.Roads {
		theirs[i] = n.Roads[i].ID
	}
	roads := resurvey.NewRoads(ours, theirs)
	source := map[string]NetworkSource{}
	for _, s := range n.Sources {
		source[s.Files] = s
	}
	bySource := map[string]string{}
	err := gpkg.Each(m.src, scanPairs(bySource), "SELECT r.road, s.files FROM network_roads r JOIN network_sources s ON s.fid = r.source_fid")
	if err != nil {
		return err
	}
	for i := range n.Roads {
		r := &n.Roads[i]
		from := source[bySource[r.ID]]
		id, found := roads.Find(&RouteRecord{ID: r.ID})
		if found && !m.choices.TakeTheirs {
			continue
		}
		if found {
			r.ID = id
		}
		if err := m.s.writeNetworkRoad(from, r); err != nil {
			return err
		}
	}
	return nil
}
