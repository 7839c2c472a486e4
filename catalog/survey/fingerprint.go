package survey

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"math"
	"os"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/routes"
	"gradeline/terrain/raster"
)

// fingerprint sums up terrain, classes, rules, options and program: everything but the route that
// the results depend on. It is empty where the terrain may change unnoticed.
func (s *Setup) fingerprint(surface *raster.Surface, p catalog.Provenance) string {
	if surface == nil { // drives alone: read again each time
		return ""
	}
	stamp := surface.Stamp()
	self, err := os.Executable()
	if err != nil || stamp == "" {
		return ""
	}
	exe, err := os.Stat(self)
	if err != nil {
		return ""
	}
	p.At = time.Time{}
	sum := sha256.New()
	fmt.Fprintf(sum, "%s\n%s %d %d\n%s\n%q\n", journalFormat, s.Tool, exe.Size(), exe.ModTime().UnixNano(), stamp, s.Terrain)
	fmt.Fprintf(sum, "%v %v %v %+v %v %v %v %s\n", s.MassKg, *weatherOr(s.Weather), s.Units, s.Descent, s.SurfaceModel, s.AccuracyM, surface.IsFlatGround(), mustJSON(p))
	for _, k := range s.Classes {
		fmt.Fprintf(sum, "%+v\n", k)
	}
	fmt.Fprintf(sum, "%s\n", s.Drives.Stamp())
	fmt.Fprintf(sum, "%v %q %v\n", s.AsDrawn, s.Lines.Roads, s.Lines.Box)
	fmt.Fprintf(sum, "%q %v %v %v %q\n", s.By, s.AcceptMoves, s.KeepAll, s.KeepProfile, s.Part.String())
	return hex.EncodeToString(sum.Sum(nil))
}

// routeKey is the fingerprint of a route under a setup, and of the network in which its hills may
// continue (0: none).
func routeKey(setup string, network uint64, r *routes.Route) string {
	sum := sha256.New()
	fmt.Fprintf(sum, "%s\n%x\n%q %q %q %q %v\n%+v\n%+v\n%v %v\n%+v\n", setup, network, r.ID, r.Name, r.Ref, r.Place.File, r.FeatureSpan, r.Structures, r.Limits, r.OneWay, r.OneWayDir, r.Incline)
	b := make([]byte, 0, 16*len(r.Line))
	for _, p := range r.Line {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(p[0]))
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(p[1]))
	}
	sum.Write(b)
	return hex.EncodeToString(sum.Sum(nil)[:16])
}

// catalogSum sums up a route and its descents as a catalogue holds them, in any order.
type catalogSum struct {
	Count int       `json:"count"`
	Sum   [2]uint64 `json:"sum"`
}

func (s *catalogSum) addBytes(b []byte) {
	h := sha256.Sum256(b)
	s.Sum[0] += binary.LittleEndian.Uint64(h[:])
	s.Sum[1] += binary.LittleEndian.Uint64(h[8:])
}

// addRoute includes the route itself and the time when it was saved: equal figures from another
// survey may come from other data, classes or rules.
func (s *catalogSum) addRoute(r *store.RouteRecord) { s.addBytes([]byte(mustJSON(r) + r.SurveyedAt)) }

// addDescent includes a descent and the main figures of its holds.
func (s *catalogSum) addDescent(d *routes.Descent, holds []catalog.Hold) {
	s.Count++
	b := []byte(mustJSON(d))
	for i := range holds {
		h := &holds[i]
		b = fmt.Appendf(b, "\n%q %v %v %v %v %v %v %v %v %q %v %v %v", h.Class, h.MassKg, h.Holds, h.Gear, h.Ratio, h.Stage, h.SpeedMPS,
			h.EngineRPM, h.RetarderUsePct, h.LimitedBy, h.HeaviestMassKg, h.MissingPowerW, h.FrictionNeeded)
		if h.Weather != nil {
			b = fmt.Appendf(b, " %v", *h.Weather)
		}
	}
	s.addBytes(b)
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
