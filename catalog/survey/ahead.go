package survey

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/terrain"
)

// A hill that continues in other roads is surveyed as one line over them. What that line shows
// depends on the roads, the terrain and the options, but on no height that other routes give a node.
// So it can be worked out ahead of the survey, on any machine that has the roads, in any order. The
// survey finds it by its key; where it is not there, the line is surveyed as ever.

// OnwardLine is what a line over several roads shows of the hill from its first road into its last.
type OnwardLine struct {
	IsSurveyed bool            `json:"surveyed"` // it has a grade line
	Hill       *routes.Descent `json:"hill"`     // nil where there is none
	Holds      []catalog.Hold  `json:"holds"`
	Crests     []crest         `json:"crests"` // where a hill beyond the last road may begin; only where Hill does not reach its end
}

// MarshalJSON writes a crest as a pair.
func (c crest) MarshalJSON() ([]byte, error) { return json.Marshal([2]float64{c.beforeM, c.aboveM}) }

// UnmarshalJSON reads a pair.
func (c *crest) UnmarshalJSON(b []byte) error {
	var v [2]float64
	err := json.Unmarshal(b, &v)
	c.beforeM, c.aboveM = v[0], v[1]
	return err
}

// onwardKey names a line over several roads with the stations of its last and its first joint, with
// all that its survey takes from the road files.
func onwardKey(line *routes.Route, joinM, endM float64) (string, error) {
	rest := *line
	rest.Line, rest.VertexM, rest.Incline = nil, nil, nil // figures, some of them none in JSON
	text, err := json.Marshal(rest)
	if err != nil {
		return "", err
	}
	b := append(text, 0)
	add := func(list ...float64) {
		for _, v := range list {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
	}
	add(joinM, endM, float64(len(line.Line)), float64(len(line.VertexM)))
	for _, p := range line.Line {
		add(p[0], p[1])
	}
	add(line.VertexM...)
	for _, k := range line.Incline {
		add(k.FromM, k.ToM, k.GradePct, float64(k.Sign))
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:16]), nil
}

// lineOver surveys a line over several roads, or finds what was worked out ahead. Where recorded
// drives may pass over the line it is surveyed: what was worked out ahead knows of none.
func (b *beyond) lineOver(line *routes.Route, joinM, endM float64) OnwardLine {
	o := &b.options
	if o.ahead == nil && o.noted == nil && o.OnAhead == nil {
		return b.surveyLine(line, joinM, endM)
	}
	key, err := onwardKey(line, joinM, endM)
	l, isKnown := o.ahead[key]
	isKnown = isKnown && err == nil && !o.Drives.mayPass(line)
	if o.OnAhead != nil {
		o.OnAhead(isKnown)
	}
	if !isKnown {
		l = b.surveyLine(line, joinM, endM)
	}
	if o.noted != nil && err == nil && b.ctx.Err() == nil {
		o.noted[key] = l
	}
	return l
}

// surveyLine surveys a line over several roads, the last of them from joinM on, the first up to endM.
func (b *beyond) surveyLine(line *routes.Route, joinM, endM float64) OnwardLine {
	var out OnwardLine
	res := One(b.ctx, b.surface, line, b.options)
	if res.Profile == nil {
		return out
	}
	out.IsSurveyed = true
	for i := range res.Entries {
		d := &res.Entries[i].Descent
		if d.StartM < endM-endSlackM && d.EndM > joinM+endSlackM {
			out.Hill, out.Holds = d, res.Entries[i].Holds
			break
		}
	}
	if out.Hill == nil || line.LengthM-out.Hill.EndM > endSlackM {
		out.Crests = crestsBefore(res.Profile, routes.Forward, line.LengthM-endM)
	}
	return out
}

// mayPass reports whether a drive comes near the box of a line, with a margin that is far more than
// a grade line is beside the line as drawn (our own choice).
func (d *Drives) mayPass(line *routes.Route) bool {
	if d == nil || len(d.list) == 0 {
		return false
	}
	box := orb.MultiPoint(line.Line).Bound().Pad(10 * driveBoxPadDeg)
	for i := range d.list {
		if d.list[i].box.Intersects(box) {
			return true
		}
	}
	return false
}

// Ahead surveys lines over several roads ahead of a survey. It holds the joined roads in memory.
// It is safe for concurrent use.
type Ahead struct {
	surface terrain.Surface
	options Options
	roads   *Roads
}

// NewAhead reads and joins the roads of a survey.
func NewAhead(ctx context.Context, surface terrain.Surface, s *Setup) (*Ahead, error) {
	a := &Ahead{surface: surface, options: s.Options, roads: ReadRoads(s.Roads, network.Options{Options: s.Lines, AsDrawn: s.AsDrawn})}
	a.options.Descent = a.options.Descent.WithDefaults()
	for _, err := range a.roads.Routes(ctx) {
		if err != nil {
			return nil, err
		}
	}
	return a, ctx.Err()
}

// Lines surveys the lines over several roads in which hills of a route may continue, by their keys.
// The route's own grade line is taken as it is: where a node gives it other heights, the survey may
// ask for a line that is not among these.
func (a *Ahead) Lines(ctx context.Context, r *routes.Route, line GradeLine) (out map[string]OnwardLine, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("the program failed on lines over several roads: %v", p)
		}
	}()
	o := a.options
	o.roads, o.noted = a.roads, map[string]OnwardLine{}
	o.fleet = holding.NewFleet(o.Classes)
	own := o
	own.Classes, own.fleet = nil, nil // its own advice is not what is asked
	res := Result{Route: *r, Stations: line.Stations}
	res.describe(line.Profile, r, own)
	goOn(ctx, a.surface, &res, own, o)
	return o.noted, ctx.Err()
}
