package store

import (
	"context"
	"database/sql/driver"

	"gradeline/catalog/gpkg"
	"gradeline/terrain"
)

// What a search of the network needs at once is kept besides the roads, as parts whose
// content this package does not know. Every change of a road drops them, so that they
// never say anything else than the roads do; without them a search reads all roads.

// NetworkSources lists the sources of the network as the batch has it.
func (s *Survey) NetworkSources(ctx context.Context) ([]NetworkSource, error) {
	if err := s.begin(ctx); err != nil {
		return nil, err
	}
	out, err := networkSources(s.c.file)
	return out, s.c.inFile(err)
}

// EachNetworkRoad calls f for each road of the network as the batch has it; f must not
// use the batch.
func (s *Survey) EachNetworkRoad(ctx context.Context, f func(*NetworkRoad) error) error {
	if err := s.begin(ctx); err != nil {
		return err
	}
	return s.c.inFile(eachNetworkRoad(s.c.file, f))
}

// SurveyedRoads lists the ids of the network's roads that have a grade line, as the batch has them;
// none in a dry run.
func (s *Survey) SurveyedRoads(ctx context.Context) ([]string, error) {
	if s.o.DryRun {
		return nil, nil
	}
	var out []string
	list := func(q gpkg.Querier) error {
		d := q.Direct()
		return d.Each("SELECT road FROM network_roads NOT INDEXED WHERE surveyed AND samples IS NOT NULL ORDER BY fid", d.Args(), func(v []driver.Value) error {
			out = append(out, string(gpkg.BytesOf(v[0])))
			return nil
		})
	}
	if s.open {
		return out, s.c.inFile(list(s.c.file))
	}
	return out, s.c.inFile(s.c.file.Read(ctx, list)) // without a transaction, which would leave a mark
}

// EachRoadOf calls f for some roads of the network by their ids, as the batch has them; f must not
// change the batch. Roads are parsed by several goroutines ahead of f.
func (s *Survey) EachRoadOf(ctx context.Context, ids []string, f func(*NetworkRoad) error) error {
	if err := s.begin(ctx); err != nil {
		return err
	}
	d, parser := s.c.file.Direct(), roadParser{f: f}
	for _, id := range ids {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		isThere := false
		err := d.Each(roadColumns+"WHERE road = ?", d.Args().Add(id), func(v []driver.Value) error {
			isThere = true
			return parser.add(v)
		})
		if err == nil && !isThere {
			err = damagedNetwork("road "+id, &Fault{Kind: terrain.ErrRead, What: "it is not found by its id"})
		}
		if err != nil {
			return s.c.inFile(err)
		}
	}
	return s.c.inFile(parser.end())
}

// VertDatum is the vertical datum of the rasters under a stored route; empty where it is not known.
func (s *Survey) VertDatum(ctx context.Context, route string) (string, error) {
	if err := s.begin(ctx); err != nil {
		return "", err
	}
	var datum string
	_, err := gpkg.First(s.c.file, []any{&datum}, "SELECT vertical_datum FROM sources WHERE kind = 'raster' AND vertical_datum <> '' AND route_fid = (SELECT fid FROM routes WHERE route = ?) ORDER BY fid", route)
	return datum, s.c.inFile(err)
}

// SaveNetworkPart puts a part in place of the one of that name, in the batch's transaction.
func (s *Survey) SaveNetworkPart(ctx context.Context, name string, content []byte) error {
	if s.o.DryRun {
		return nil
	}
	if err := s.begin(ctx); err != nil {
		return err
	}
	row := []driver.Value{name, content}
	d := s.c.file.Direct()
	err := d.Run("DELETE FROM network_parts WHERE part = ?", d.Args().Add(name))
	if err == nil {
		err = d.Run("INSERT INTO network_parts(part, content, seal) VALUES (?, ?, ?)", d.Args().Add(append(row, gpkg.Seal(row, ""))...))
	}
	if err != nil {
		return s.c.file.Fault(s.fail(err), "saving the search graph of the network")
	}
	s.bytes += len(content)
	return nil
}

// dropNetworkParts takes the parts away, since a road changes.
func (s *Survey) dropNetworkParts() error {
	d := s.c.file.Direct()
	return d.Run("DELETE FROM network_parts", d.Args())
}

// NetworkParts reads the sources of the network and the parts of the given names, from
// one state of the file; parts that do not exist are missing from the map.
func (c *Catalog) NetworkParts(ctx context.Context, names ...string) (sources []NetworkSource, parts map[string][]byte, err error) {
	err = c.file.Read(ctx, func(q gpkg.Querier) (err error) {
		if sources, err = networkSources(q); err == nil && sources != nil {
			parts, err = networkParts(q, names)
		}
		return c.inFile(err)
	})
	return sources, parts, err
}

// networkParts reads parts by name; no names: it reads all and keeps none.
func networkParts(q gpkg.Querier, names []string) (map[string][]byte, error) {
	have, err := hasTable(q, "network_parts")
	if err != nil || !have {
		return nil, err
	}
	out := map[string][]byte{}
	add := func(v []driver.Value) error {
		name := string(gpkg.BytesOf(v[0]))
		err := gpkg.CheckSeal(v[2], v[:2], "")
		if err == nil && v[2] == nil {
			err = &Fault{Kind: terrain.ErrRead, What: "it has no check sum"}
		}
		if err != nil {
			return damagedNetwork("its search graph, part "+name, err)
		}
		if len(names) > 0 {
			out[name] = gpkg.BytesOf(v[1])
		}
		return nil
	}
	const columns = "SELECT part, content, seal FROM network_parts "
	if len(names) == 0 {
		return out, q.Direct().Each(columns+"NOT INDEXED", q.Direct().Args(), add)
	}
	for _, n := range names {
		if err := q.Direct().Each(columns+"WHERE part = ?", q.Direct().Args().Add(n), add); err != nil {
			return nil, err
		}
	}
	return out, nil
}
