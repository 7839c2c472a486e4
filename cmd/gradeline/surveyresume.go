package main

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/terrain/raster"
)

// A survey that was cut short leaves its working file beside the catalogue. The next
// one takes over from there what was finished, if it was made from the same: the file
// names what it was made from (spoolHead.Setup), each route has a key of that and of
// all that its line and tags say, and the catalogue must still hold what was saved.
// Anything else is surveyed again.

// spoolHead is the first record of a working file.
type spoolHead struct {
	Format string    `json:"format"`
	Setup  string    `json:"setup"` // fingerprint of all that results depend on besides the route
	Files  []string  `json:"files"`
	Shard  string    `json:"shard"`
	At     time.Time `json:"at"`
}

const spoolFormat = "gradeline survey 1"

// spoolMeta is what a record keeps besides the parts of the answer.
type spoolMeta struct {
	Key      string          `json:"key"` // empty: never taken over
	Route    string          `json:"route"`
	Sum      catalogSum      `json:"sum"`
	Gaps     []string        `json:"gaps"`
	SkipGaps []string        `json:"skip_gaps"`
	Waiting  []string        `json:"waiting"`
	Warnings []string        `json:"warnings"`
	Places   [][2]float64    `json:"places_deg"`
	Rows     []catalog.Entry `json:"rows"` // for the table
	Failed   bool            `json:"failed"`
}

// setupOf is the fingerprint of terrain, classes, rules, options and program; empty
// where the terrain cannot be known to stay as it is.
func setupOf(c *cli.Context, classes []vehicle.Class, o survey.Options, surface *raster.Surface) string {
	stamp := surface.Stamp()
	self, err := os.Executable()
	if err != nil || stamp == "" {
		return ""
	}
	exe, err := os.Stat(self)
	if err != nil {
		return ""
	}
	p := o.Provenance
	p.At = time.Time{}
	terrainPaths, _ := inputs(c)
	sum := sha256.New()
	fmt.Fprintf(sum, "%s\n%s %d %d\n%s\n%q\n", spoolFormat, version, exe.Size(), exe.ModTime().UnixNano(), stamp, terrainPaths)
	fmt.Fprintf(sum, "%v %v %+v %v %v %s\n", o.MassKg, o.Units, o.Descent, o.SurfaceModel, o.AccuracyM, mustJSON(p))
	for _, k := range classes {
		fmt.Fprintf(sum, "%+v\n", k)
	}
	fmt.Fprintf(sum, "%q %v %v %v %q\n", c.String("by"), c.Bool("accept-moves"), c.Bool("json"), c.String("profile") != "", c.String("shard"))
	return hex.EncodeToString(sum.Sum(nil))
}

// routeKey is the fingerprint of a route under a setup.
func routeKey(setup string, r *routes.Route) string {
	sum := sha256.New()
	fmt.Fprintf(sum, "%s\n%q %q %q %q %v\n%+v\n%+v\n%v %v\n%+v\n", setup, r.ID, r.Name, r.Ref, r.Place.File, r.FeatureSpan, r.Structures, r.Limits, r.OneWay, r.OneWayDir, r.Incline)
	b := make([]byte, 0, 16*len(r.Line))
	for _, p := range r.Line {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(p[0]))
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(p[1]))
	}
	sum.Write(b)
	return hex.EncodeToString(sum.Sum(nil)[:16])
}

// catalogSum sums up a route's descents as a catalogue holds them, in any order.
type catalogSum struct {
	Count int       `json:"count"`
	Sum   [2]uint64 `json:"sum"`
}

func (s *catalogSum) add(b []byte) {
	h := sha256.Sum256(b)
	s.Sum[0] += binary.LittleEndian.Uint64(h[:])
	s.Sum[1] += binary.LittleEndian.Uint64(h[8:])
}

// addRoute counts the route itself in, and when it was saved: the same figures of
// another survey stand on other data, classes or rules.
func (s *catalogSum) addRoute(r *store.Route) { s.add([]byte(mustJSON(r) + r.SurveyedAt)) }

// addDescent counts in a descent and what the contract says of its holds.
func (s *catalogSum) addDescent(d *routes.Descent, holds []catalog.Hold) {
	s.Count++
	b := []byte(mustJSON(d))
	for i := range holds {
		h := &holds[i]
		b = fmt.Appendf(b, "\n%q %v %v %v %v %v %v %v %v %q %v %v %v", h.Class, h.MassKg, h.Holds, h.Gear, h.Ratio, h.Stage, h.SpeedMPS,
			h.EngineRPM, h.RetarderUsePct, h.LimitedBy, h.HeaviestMassKg, h.MissingPowerW, h.FrictionNeeded)
	}
	s.add(b)
}

// catalogSums reads what the catalogue holds of every route.
func catalogSums(ctx context.Context, cat *store.Catalog) (map[string]catalogSum, error) {
	gone := map[string]bool{}
	err := cat.Each(ctx, store.Filter{WithRetired: true, Gone: true, NoHolds: true}, func(e catalog.Entry) error {
		gone[e.Descent.ID] = true
		return nil
	})
	if err != nil {
		return nil, err
	}
	out := map[string]catalogSum{}
	list, err := cat.Routes(ctx)
	if err != nil {
		return nil, err
	}
	for i := range list {
		var s catalogSum
		s.addRoute(&list[i])
		out[list[i].ID] = s
	}
	err = cat.Each(ctx, store.Filter{WithRetired: true, Brief: true}, func(e catalog.Entry) error {
		if !gone[e.Descent.ID] {
			s := out[e.Descent.Route]
			s.addDescent(&e.Descent, e.Holds)
			out[e.Descent.Route] = s
		}
		return nil
	})
	return out, err
}

// unfinished is what earlier runs of the same survey finished.
type unfinished struct {
	files []*spool
	at    time.Time // when the first of them began
	found map[string]finished
}

type finished struct {
	file *spool
	off  int64
}

// openUnfinished finds the working files of this very survey beside the catalogue,
// and in them the routes that the catalogue still holds as they were saved.
func openUnfinished(ctx context.Context, cat *store.Catalog, head spoolHead) (*unfinished, error) {
	u := &unfinished{found: map[string]finished{}}
	for _, path := range spoolsOf(cat.Path()) {
		s := reopenSpool(path)
		if s == nil {
			continue
		}
		h, err := s.theHead()
		if err != nil || h.Format != spoolFormat || h.Setup != head.Setup || !slices.Equal(h.Files, head.Files) {
			s.keep()
			continue
		}
		u.files = append(u.files, s)
		if u.at.IsZero() || h.At.Before(u.at) {
			u.at = h.At
		}
	}
	if len(u.files) == 0 {
		return u, nil
	}
	sums, err := catalogSums(ctx, cat)
	if err != nil {
		u.keep()
		return nil, err
	}
	for _, s := range u.files {
		err := s.each(func(off int64) error {
			if off == 0 {
				return nil
			}
			b, err := s.part(off, partMeta)
			if err != nil {
				return err
			}
			var m spoolMeta
			if json.Unmarshal(b, &m) == nil && m.Key != "" {
				if now, ok := sums[m.Route]; ok && now == m.Sum {
					u.found[m.Key] = finished{s, off}
				}
			}
			return ctx.Err()
		})
		if err != nil {
			u.keep()
			return nil, err
		}
	}
	return u, nil
}

func (u *unfinished) keep() {
	for _, s := range u.files {
		s.keep()
	}
}

// theHead reads the first record.
func (s *spool) theHead() (h spoolHead, err error) {
	b, err := s.part(0, partMeta)
	if err != nil {
		return h, err
	}
	return h, json.Unmarshal(b, &h)
}

// startSpool makes the working file: beside the catalogue where a later run can take
// it up, else without a name.
func startSpool(catalogPath string, head spoolHead) (*spool, error) {
	path := ""
	if catalogPath != "" && head.Setup != "" {
		for n := 1; ; n++ {
			path = fmt.Sprintf("%s.%s-%d%s", catalogPath, head.Setup[:8], n, unfinishedExt)
			if _, err := os.Lstat(path); err != nil {
				break
			}
		}
	}
	s, err := newSpool(path)
	if err != nil {
		return nil, err
	}
	if err := s.append(&record{partMeta: []byte(mustJSON(head))}); err != nil {
		s.remove()
		return nil, err
	}
	return s, nil
}

// dropUnfinished removes the working files that a finished survey leaves without use:
// those of its route files and shard, and those without a whole record.
func dropUnfinished(catalogPath string, head spoolHead) {
	for _, path := range spoolsOf(catalogPath) {
		s := reopenSpool(path)
		if s == nil {
			continue
		}
		if h, err := s.theHead(); err == nil && h.Shard == head.Shard && slices.Equal(h.Files, head.Files) {
			s.remove()
			continue
		}
		s.keep()
	}
}

// absolute makes paths that name the same files from any folder.
func absolute(paths []string) []string {
	var out []string
	for _, p := range paths {
		if abs, err := filepath.Abs(p); err == nil && p != "-" {
			p = abs
		}
		out = append(out, p)
	}
	return out
}

// copyRows writes the profile file's rows of all routes.
func copyRows(w io.Writer, s *spool) error {
	if _, err := io.WriteString(w, profileHeader); err != nil {
		return err
	}
	return s.copy(w, partProfile, "")
}
