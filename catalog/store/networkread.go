package store

import (
	"bytes"
	"context"
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"gradeline/catalog/gpkg"
	"gradeline/terrain"
)

// Network reads the road network, without any road where the catalogue has none. What does not
// fit its check sum is a fault: a way is never found through part of a network.
func (c *Catalog) Network(ctx context.Context) (*Network, error) {
	n := &Network{}
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		return c.inFile(n.read(q))
	})
	if err != nil {
		return nil, err
	}
	return n, nil
}

// ReadNetwork calls f with the sources of the road network and a function that goes through its
// roads, all of one state of the file. Without a network the sources are nil.
func (c *Catalog) ReadNetwork(ctx context.Context, f func(sources []NetworkSource, each func(func(*NetworkRoad) error) error) error) error {
	return c.file.Read(ctx, func(q gpkg.Querier) error {
		sources, err := networkSources(q)
		if err != nil {
			return c.inFile(err)
		}
		return c.inFile(f(sources, func(g func(*NetworkRoad) error) error {
			return eachNetworkRoad(q, func(r *NetworkRoad) error {
				if ctx.Err() != nil {
					return ctx.Err()
				}
				return g(r)
			})
		}))
	})
}

func (n *Network) read(q gpkg.Querier) (err error) {
	if n.Sources, err = networkSources(q); err != nil || n.Sources == nil {
		return err
	}
	return eachNetworkRoad(q, func(r *NetworkRoad) error {
		n.Roads = append(n.Roads, *r)
		return nil
	})
}

// hasTable reports whether a file has a table; those of older versions lack some.
func hasTable(q gpkg.Querier, name string) (bool, error) {
	return q.Direct().Any("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?", q.Direct().Args().Add(name))
}

// networkSources lists the sources of the network; nil where there are none.
func networkSources(q gpkg.Querier) ([]NetworkSource, error) {
	have, err := hasTable(q, "network_roads")
	if err != nil || !have {
		return nil, err
	}
	var out []NetworkSource
	err = q.Direct().Each("SELECT files, extracts, turns, seal FROM network_sources NOT INDEXED ORDER BY fid", q.Direct().Args(), func(v []driver.Value) error {
		var s NetworkSource
		if err := gpkg.CheckSeal(v[3], v[:3], ""); err != nil || v[3] == nil {
			return damagedNetwork("its source", err)
		}
		s.Files = string(gpkg.BytesOf(v[0]))
		if err := json.Unmarshal(gpkg.BytesOf(v[1]), &s.Extracts); err != nil {
			return damagedNetwork(s.Files, err)
		}
		if err := json.Unmarshal(gpkg.BytesOf(v[2]), &s.Turns); err != nil {
			return damagedNetwork(s.Files, err)
		}
		out = append(out, s)
		return nil
	})
	return out, err
}

const roadColumns = "SELECT road, length_m, surveyed, lines, samples, masks, more, seal FROM network_roads "

// parsedRoad is a road whose row is parsed by a goroutine of its own.
type parsedRoad struct {
	row  []driver.Value
	road NetworkRoad
	err  error
	done chan struct{} // closed when road or err is set
}

func (p *parsedRoad) parse() {
	p.road, p.err = networkRoad(p.row)
	close(p.done)
}

// copiedRow is a row that stays valid when the next one is read.
func copiedRow(v []driver.Value) []driver.Value {
	out := slices.Clone(v)
	for i := range out {
		if b, ok := out[i].([]byte); ok {
			out[i] = bytes.Clone(b)
		}
	}
	return out
}

// mostParsed is the number of roads that are parsed at once or wait for an earlier one.
const mostParsed = 64

// eachNetworkRoad calls f for each road of the network, in the order in which they were saved. Rows
// are parsed ahead of f, several at once.
func eachNetworkRoad(q gpkg.Querier, f func(*NetworkRoad) error) error {
	parser := roadParser{seen: map[string]bool{}, f: f}
	err := q.Direct().Each(roadColumns+"NOT INDEXED ORDER BY fid", q.Direct().Args(), parser.add)
	if err == nil {
		err = parser.end()
	}
	return err
}

// roadParser parses rows of roads ahead of f, which gets them in order.
type roadParser struct {
	f       func(*NetworkRoad) error
	seen    map[string]bool // to refuse a road that is there twice; may be nil
	waiting []*parsedRoad   // in order
}

// add takes the next row.
func (p *roadParser) add(v []driver.Value) error {
	if len(p.waiting) == mostParsed {
		if err := p.next(); err != nil {
			return err
		}
	}
	r := &parsedRoad{row: copiedRow(v), done: make(chan struct{})}
	p.waiting = append(p.waiting, r)
	go r.parse()
	return nil
}

// next hands the first of the roads to f.
func (p *roadParser) next() error {
	r := p.waiting[0]
	p.waiting = p.waiting[1:]
	<-r.done
	if r.err == nil && p.seen[r.road.ID] {
		r.err = &Fault{Kind: terrain.ErrRead, What: "it is there twice"}
	}
	if r.err != nil {
		return damagedNetwork("road "+string(gpkg.BytesOf(r.row[0])), r.err)
	}
	if p.seen != nil {
		p.seen[r.road.ID] = true
	}
	return p.f(&r.road)
}

// end hands over the rest.
func (p *roadParser) end() error {
	for len(p.waiting) > 0 {
		if err := p.next(); err != nil {
			return err
		}
	}
	return nil
}

// RouteIDs lists the surveyed routes, in no order: all, or those that the road network does not have.
// It lists none where there are exactly as many as the caller knows.
func (c *Catalog) RouteIDs(ctx context.Context, andOfNetwork bool, known int) (ids []string, err error) {
	from := " FROM routes"
	err = c.file.Read(ctx, func(q gpkg.Querier) error {
		if !andOfNetwork {
			have, err := hasTable(q, "network_roads")
			if err != nil {
				return err
			}
			if have {
				from += " WHERE NOT EXISTS (SELECT 1 FROM network_roads WHERE road = route)"
			}
		}
		var n int
		if _, err := gpkg.First(q, []any{&n}, "SELECT count(*)"+from); err != nil || n == known {
			return c.inFile(err)
		}
		return c.inFile(gpkg.Each(q, scanText(&ids), "SELECT route"+from))
	})
	return ids, err
}

// NetworkRoads reads some roads of the network by their ids. One that does not exist, or occurs
// more than once, is a fault.
func (c *Catalog) NetworkRoads(ctx context.Context, ids []string) ([]NetworkRoad, error) {
	out := make([]NetworkRoad, len(ids))
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		for i, id := range ids {
			count := 0
			err := q.Direct().Each(roadColumns+"WHERE road = ?", q.Direct().Args().Add(id), func(v []driver.Value) (err error) {
				count++
				out[i], err = networkRoad(v)
				return err
			})
			if err == nil && (count != 1 || out[i].ID != id) {
				err = &Fault{Kind: terrain.ErrRead, What: fmt.Sprintf("it is there %d times", count)}
			}
			if err != nil {
				return c.inFile(damagedNetwork("road "+id, err))
			}
		}
		return nil
	})
	return out, err
}

func damagedNetwork(where string, err error) error {
	return &Fault{Kind: terrain.ErrRead, Feature: where, What: "the road network is damaged or was changed by another program", Err: err, Fix: "survey the network again, or restore the last copy"}
}

func networkRoad(v []driver.Value) (r NetworkRoad, err error) {
	more := gpkg.BytesOf(v[6])
	if v[7] == nil {
		return r, &Fault{Kind: terrain.ErrRead, What: "it has no check sum"}
	}
	if err := gpkg.CheckSeal(v[7], v[:6], string(more)); err != nil {
		return r, err
	}
	r.ID = string(gpkg.BytesOf(v[0]))
	r.LengthM, _ = v[1].(float64)
	r.IsSurveyed = v[2] == true || v[2] == int64(1)
	if r.Lines, err = unpackLines(gpkg.BytesOf(v[3])); err != nil {
		return r, err
	}
	r.Samples = append([]byte(nil), gpkg.BytesOf(v[4])...)
	if err := json.Unmarshal(gpkg.BytesOf(v[5]), &r.Masks); err != nil {
		return r, err
	}
	if err := json.Unmarshal(more, &r.Grade); err != nil {
		return r, err
	}
	if !(r.LengthM > 0) || math.IsInf(r.LengthM, 0) || len(r.Lines) == 0 {
		return r, &Fault{Kind: terrain.ErrRead, What: "it has no line"}
	}
	return r, nil
}

// examineNetwork looks at the rows of the network.
func examineNetwork(x *gpkg.Examination) error {
	sources, err := networkSources(x)
	if err == nil && sources != nil {
		err = eachNetworkRoad(x, func(r *NetworkRoad) error {
			if _, err := r.Profile(); err != nil {
				return damagedNetwork("road "+r.ID, err)
			}
			return nil
		})
	}
	if err == nil {
		_, err = networkParts(x, nil)
	}
	if f, ok := err.(*Fault); ok {
		x.Add(gpkg.Defect{Check: gpkg.CheckFigures, Where: "network, " + f.Feature, What: f.What, Fix: f.Fix})
		return nil
	}
	return err
}
