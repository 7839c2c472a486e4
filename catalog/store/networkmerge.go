package store

import "gradeline/catalog/gpkg"

// networkRoads brings over the roads of a network that the target has not, row by row.
func (m *merger) networkRoads() error {
	var n Network
	if err := n.read(m.src); err != nil || len(n.Roads) == 0 {
		return err
	}
	var files []string
	if err := gpkg.Each(m.dst.file, scanText(&files), "SELECT road FROM network_roads"); err != nil {
		return err
	}
	have := map[string]bool{}
	for _, id := range files {
		have[id] = true
	}
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
		if have[r.ID] && !m.o.TakeTheirs {
			continue
		}
		if err := m.s.writeNetworkRoad(source[bySource[r.ID]], r); err != nil {
			return err
		}
	}
	return nil
}
