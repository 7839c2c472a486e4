package store

import (
	"context"
	"database/sql/driver"
	"encoding/json"
	"fmt"

	"github.com/paulmach/orb"

	"gradeline/catalog/gpkg"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/terrain"
)

// A road network is stored road by road, so that a new survey changes only its own roads. A row has
// the lines with their tags, the grade line, and for each weight class the stretches that limit it.
// Ways through the network are then found without terrain.

// NetworkRoad is a road of the network.
type NetworkRoad struct {
	network.KeptRoad
	Samples []byte // the grade line, packed: see Profile; nil where there is none
	Grade   NetworkGrade
	Masks   []Mask

	lines []byte // packed; nil: not yet
}

// NetworkGrade describes a road's grade line apart from its stations.
type NetworkGrade struct {
	Reliable   bool           `json:"reliable"`
	Unreliable string         `json:"unreliable"`
	Doubtful   []routes.Doubt `json:"doubtful"`
	MissingM   float64        `json:"missing_m"`
	SigmaM     float64        `json:"noise_sigma_m"`
	TauM       float64        `json:"noise_tau_m"`
}

// Mask lists the descents of a road for one weight class.
type Mask struct {
	Class       string        `json:"class"`
	ClassSHA256 string        `json:"class_sha256"` // of its definition
	MassKg      float64       `json:"mass_kg"`
	Stretches   []MaskStretch `json:"stretches"`
}

// MaskStretch is a descent of the road in one direction of travel, as the class meets it.
type MaskStretch struct {
	Direction      routes.Direction `json:"direction"`
	FromM          float64          `json:"from_m"` // in travel: beyond ToM when backward
	ToM            float64          `json:"to_m"`
	Held           bool             `json:"held"`
	HeaviestMassKg float64          `json:"heaviest_mass_kg"`
	TopSpeedMPS    float64          `json:"top_speed_mps"`
	RetarderUsePct float64          `json:"retarder_use_pct"`
	LostS          float64          `json:"lost_s"` // compared with the speed without the descent
	SurfacesOut    []string         `json:"surfaces_excluded"`
}

// NetworkSource is where a network came from.
type NetworkSource struct {
	Files    string // as named, with commas between
	Extracts []routes.Extract
	Turns    []routes.Turn
}

// Network is the road network of a catalogue.
type Network struct {
	Sources []NetworkSource
	Roads   []NetworkRoad
}

// PackLines makes the stored form of a road's lines before it is saved. They must not be changed
// afterwards.
func (r *NetworkRoad) PackLines() (err error) {
	r.lines, err = packLines(r.Lines)
	return err
}

// Pack fills in the stored form of a road's grade line.
func (r *NetworkRoad) Pack(p *routes.Profile) error {
	b, err := packProfile(p)
	if err != nil {
		return err
	}
	r.Samples = b
	r.Grade = NetworkGrade{p.Reliable, p.Unreliable, p.Doubtful, p.MissingM, p.Noise.SigmaM, p.Noise.TauM}
	return nil
}

// Profile is the road's grade line; nil where there is none.
func (r *NetworkRoad) Profile() (*routes.Profile, error) {
	if len(r.Samples) == 0 {
		return nil, nil
	}
	p, err := unpackProfile(r.Samples)
	if err != nil {
		return nil, err
	}
	p.Reliable, p.Unreliable, p.Doubtful, p.MissingM = r.Grade.Reliable, r.Grade.Unreliable, r.Grade.Doubtful, r.Grade.MissingM
	p.Noise = routes.Noise{SigmaM: r.Grade.SigmaM, TauM: r.Grade.TauM}
	return p, nil
}

// SaveNetworkRoad replaces a road of a source in the catalogue, in the batch's transaction.
func (s *Survey) SaveNetworkRoad(ctx context.Context, source NetworkSource, r *NetworkRoad) error {
	if s.o.DryRun {
		return nil
	}
	if err := s.begin(ctx); err != nil {
		return err
	}
	if err := s.writeNetworkRoad(source, r); err != nil {
		return s.c.file.Fault(s.fail(err), fmt.Sprintf("saving road %q of the network", r.ID))
	}
	s.bytes += len(r.Samples)
	return nil
}

func (s *Survey) writeNetworkRoad(source NetworkSource, r *NetworkRoad) error {
	fid, err := s.networkSource(source)
	if err != nil {
		return err
	}
	row, err := networkRow(r)
	if err != nil {
		return err
	}
	if err := s.dropNetworkParts(); err != nil {
		return err
	}
	d := s.c.file.Direct()
	if err := d.Run("DELETE FROM network_roads WHERE road = ?", d.Args().Add(r.ID)); err != nil {
		return err
	}
	return d.Run("INSERT INTO network_roads(source_fid, road, length_m, surveyed, lines, samples, masks, more, seal) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
		d.Args().Add(append([]driver.Value{fid}, row...)...))
}

// networkRow are the columns of a road from road to seal.
func networkRow(r *NetworkRoad) ([]driver.Value, error) {
	lines := r.lines
	if lines == nil {
		var err error
		if lines, err = packLines(r.Lines); err != nil {
			return nil, err
		}
	}
	masks, err := json.Marshal(notNilMasks(r.Masks))
	if err != nil {
		return nil, &Fault{Kind: terrain.ErrInput, What: "a figure that is not a number", Err: err, Fix: "survey the road again"}
	}
	more, err := json.Marshal(r.Grade)
	if err != nil {
		return nil, &Fault{Kind: terrain.ErrInput, What: "a figure that is not a number", Err: err, Fix: "survey the road again"}
	}
	var samples driver.Value
	if len(r.Samples) > 0 {
		samples = r.Samples
	}
	row := []driver.Value{r.ID, r.LengthM, r.IsSurveyed, lines, samples, string(masks), string(more)}
	return append(row, gpkg.Seal(row[:6], string(more))), nil
}

func notNilMasks(list []Mask) []Mask {
	if list == nil {
		return []Mask{}
	}
	return list
}

// networkSource finds or creates the row of a source, with its current turn rules.
func (s *Survey) networkSource(n NetworkSource) (int64, error) {
	if fid, ok := s.networks[n.Files]; ok {
		return fid, nil
	}
	if w, ok := s.written[n.Files]; ok && isSame(w.source.Extracts, n.Extracts) && isSame(w.source.Turns, n.Turns) {
		var fid int64
		if found, err := gpkg.First(s.c.file, []any{&fid}, "SELECT fid FROM network_sources WHERE fid = ? AND files = ?", w.fid, n.Files); err != nil || found {
			s.networks[n.Files] = fid
			return fid, err
		}
	}
	extracts, turns := []routes.Extract{}, []routes.Turn{}
	b, err := json.Marshal(append(extracts, n.Extracts...))
	if err != nil {
		return 0, err
	}
	t, err := json.Marshal(append(turns, n.Turns...))
	if err != nil {
		return 0, err
	}
	row := []driver.Value{n.Files, string(b), string(t)}
	d := s.c.file.Direct()
	args := d.Args().Add(append(row, s.c.file.NowStamp(), gpkg.Seal(row, ""))...)
	if err := d.Run("INSERT INTO network_sources(files, extracts, turns, read_at, seal) VALUES (?, ?, ?, ?, ?) ON CONFLICT(files) DO UPDATE SET extracts = excluded.extracts, turns = excluded.turns, read_at = excluded.read_at, seal = excluded.seal", args); err != nil {
		return 0, err
	}
	var fid int64
	found, err := gpkg.First(s.c.file, []any{&fid}, "SELECT fid FROM network_sources WHERE files = ?", n.Files)
	if err == nil && !found {
		err = &Fault{Kind: terrain.ErrRead, What: "an index of table network_sources is damaged", Fix: "rebuild it with doctor --repair"}
	}
	if err == nil {
		s.networks[n.Files] = fid
		s.unwritten = append(s.unwritten, writtenSource{n, fid})
	}
	return fid, err
}

// writtenSource is a source of the network with its key.
type writtenSource struct {
	source NetworkSource
	fid    int64
}

// keepWritten notes the sources that a commit has written: they need not be written again.
func (s *Survey) keepWritten() {
	for _, w := range s.unwritten {
		if s.written == nil {
			s.written = map[string]writtenSource{}
		}
		s.written[w.source.Files] = w
	}
	s.unwritten = nil
}

// isSame reports whether two lists are one in memory, or both empty.
func isSame[T any](a, b []T) bool { return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0]) }

// FinishNetwork updates the network of a source. It adds roads that are not routes of their own and
// surveyed roads that are missing. It deletes roads that the source no longer has, and roads of
// another source in the same place.
func (s *Survey) FinishNetwork(ctx context.Context, source NetworkSource, roads []network.KeptRoad) error {
	if s.o.DryRun || len(roads) == 0 {
		return nil
	}
	if err := s.begin(ctx); err != nil {
		return err
	}
	if err := s.finishNetwork(ctx, source, roads); err != nil {
		return s.c.file.Fault(s.fail(err), "saving the network")
	}
	return nil
}

func (s *Survey) finishNetwork(ctx context.Context, source NetworkSource, roads []network.KeptRoad) error {
	fid, err := s.networkSource(source)
	if err != nil {
		return err
	}
	type row struct {
		fid, source int64
		isSurveyed  bool
	}
	have := map[string]row{}
	d := s.c.file.Direct()
	err = d.Each("SELECT fid, source_fid, road, surveyed FROM network_roads NOT INDEXED", d.Args(), func(v []driver.Value) error {
		k, _ := v[0].(int64)
		from, _ := v[1].(int64)
		have[string(gpkg.BytesOf(v[2]))] = row{k, from, v[3] == true || v[3] == int64(1)}
		return nil
	})
	if err != nil {
		return err
	}
	wanted, bound := map[string]bool{}, orb.Bound{Min: orb.Point{180, 90}, Max: orb.Point{-180, -90}}
	for i := range roads {
		wanted[roads[i].ID] = true
		for k := range roads[i].Lines {
			bound = bound.Union(roads[i].Lines[k].Line.Bound())
		}
	}
	for i := range roads {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		r := &roads[i]
		if h, ok := have[r.ID]; ok && r.IsSurveyed && h.source == fid && h.isSurveyed {
			continue // saved when it was surveyed
		}
		if err := s.writeNetworkRoad(source, &NetworkRoad{KeptRoad: *r}); err != nil {
			return err
		}
	}
	for id, h := range have {
		if wanted[id] {
			continue
		}
		isGone := h.source == fid
		if !isGone {
			if isGone, err = s.liesIn(h.fid, bound); err != nil {
				return err
			}
		}
		if isGone {
			if err := s.dropNetworkParts(); err != nil {
				return err
			}
			if err := d.Run("DELETE FROM network_roads WHERE fid = ?", d.Args().Add(h.fid)); err != nil {
				return err
			}
		}
	}
	return d.Run("DELETE FROM network_sources WHERE fid <> ? AND fid NOT IN (SELECT source_fid FROM network_roads)", d.Args().Add(fid))
}

// liesIn reports whether a road of the network is inside a bound. A road that cannot be read counts
// as inside.
func (s *Survey) liesIn(fid int64, bound orb.Bound) (bool, error) {
	is := true
	d := s.c.file.Direct()
	err := d.Each("SELECT lines FROM network_roads WHERE fid = ?", d.Args().Add(fid), func(v []driver.Value) error {
		lines, err := unpackLines(gpkg.BytesOf(v[0]))
		for i := range lines {
			b := lines[i].Line.Bound()
			is = is && bound.Contains(b.Min) && bound.Contains(b.Max)
		}
		is = is || err != nil
		return nil
	})
	return is, err
}
