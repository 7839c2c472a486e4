package network

import (
	"regexp"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// Vehicle is the data of a truck that road signs limit. A zero figure is unknown: a road with a
// stated limit of that kind is then refused.
type Vehicle struct {
	MassKg, HeightM, LengthM, AxleLoadKg float64
	IsHazmat                             bool
}

// Reading of OpenStreetMap's access tags (wiki, Key:access, Key:hgv, Key:maxweight,
// Key:maxheight, Key:hazmat, all from memory). The most specific key counts.
var accessKeys = []string{"hgv", "motor_vehicle", "vehicle", "access"}

// Refusal says why a vehicle may not use a line in a direction; empty if it may, or if nothing is
// stated. A missing tag is not a permission: Unstated counts such lines.
func (v Vehicle) Refusal(f *routes.Feature, isReversed bool) string {
	if why := v.access(f, isReversed); why != "" {
		return why
	}
	for i := range signs {
		for _, k := range signs[i].keys {
			if why := overLimit(k, f.Tags[k], *signs[i].figure(&v), signs[i].unit); why != "" {
				return why
			}
		}
	}
	return v.conditional(f)
}

// signs are the tags that limit a figure of the vehicle.
var signs = []struct {
	keys   []string
	figure func(*Vehicle) *float64
	unit   func(string) (float64, bool)
}{
	{[]string{"maxweight", "maxweight:hgv", "maxweightrating", "maxweightrating:hgv"}, func(v *Vehicle) *float64 { return &v.MassKg }, massKg},
	{[]string{"maxheight", "maxheight:physical"}, func(v *Vehicle) *float64 { return &v.HeightM }, lengthM},
	{[]string{"maxlength", "maxlength:hgv"}, func(v *Vehicle) *float64 { return &v.LengthM }, lengthM},
	{[]string{"maxaxleload"}, func(v *Vehicle) *float64 { return &v.AxleLoadKg }, massKg},
}

// StatedLimits are the limits of one figure of a vehicle that the tags of a line state: metres or
// kilograms.
func StatedLimits(f *routes.Feature, figure func(*Vehicle) *float64) []float64 {
	var out []float64
	var v Vehicle
	for i := range signs {
		if signs[i].figure(&v) != figure(&v) {
			continue
		}
		for _, k := range signs[i].keys {
			if limit, ok := signs[i].unit(f.Tags[k]); ok {
				out = append(out, limit)
			}
		}
	}
	if figure(&v) == &v.MassKg {
		for _, k := range conditionKeys {
			if m := byWeight.FindStringSubmatch(f.Tags[k]); m != nil {
				if t, err := strconv.ParseFloat(m[2], 64); err == nil {
					out = append(out, 1000*t)
				}
			}
		}
	}
	return out
}

// access is the refusal by the tags of access alone, without the vehicle's figures.
func (v Vehicle) access(f *routes.Feature, isReversed bool) string {
	side := ":forward"
	if isReversed {
		side = ":backward"
	}
	for _, k := range accessKeys {
		value := f.Tags[k+side]
		if value == "" {
			value = f.Tags[k]
		}
		if value == "" {
			continue
		}
		switch value {
		case "no", "private", "agricultural", "forestry", "delivery", "destination", "customers", "permit", "residents", "military", "emergency":
			return k + "=" + value
		}
		break
	}
	if v.IsHazmat && (f.Tags["hazmat"] == "no") {
		return "hazmat=no"
	}
	return ""
}

// StatesLimits reports whether the line of an edge has any tag that Refusal uses.
func (g *Graph) StatesLimits(edge int32) bool { return g.marks[g.Base(edge)].statesLimit }

// lineMarks record the kinds of tags of a line, so that most lines need no look-up.
type lineMarks struct{ statesLimit, isBridge bool }

func marksOf(tags map[string]string) lineMarks {
	var m lineMarks
	for k, v := range tags {
		m.add(k, v)
	}
	return m
}

func (m *lineMarks) add(key, value string) {
	m.isBridge = m.isBridge || key == "bridge" && isSet(value)
	switch key, _, _ = strings.Cut(key, ":"); key {
	case "hgv", "motor_vehicle", "vehicle", "access", "hazmat", "maxweight", "maxweightrating", "maxheight", "maxlength", "maxaxleload":
		m.statesLimit = true
	}
}

// overLimit compares a stated limit with the vehicle's figure. It refuses a limit that is not
// understood, or for which the vehicle has no figure: the vehicle may be over it.
func overLimit(key, value string, figure float64, unit func(string) (float64, bool)) string {
	switch value {
	case "", "none", "default", "unsigned", "no_sign", "below_default", "no_indications":
		return ""
	}
	limit, ok := unit(value)
	switch {
	case !ok:
		return key + "=" + value + " (not understood)"
	case figure == 0:
		return key + "=" + value + " (the class does not say)"
	case figure > limit*(1+1e-4):
		return key + "=" + value
	}
	return ""
}

var byWeight = regexp.MustCompile(`(no|destination|delivery)\s*@\s*\(?\s*(?:weight|maxweight|maxweightrating)\s*>=?\s*([0-9.]+)`)

var conditionKeys = []string{"hgv:conditional", "access:conditional", "motor_vehicle:conditional"}

// conditional refuses a vehicle by a condition on the weight; IsTimed reports conditions on hours.
func (v Vehicle) conditional(f *routes.Feature) string {
	for _, k := range conditionKeys {
		if m := byWeight.FindStringSubmatch(f.Tags[k]); m != nil {
			if t, err := strconv.ParseFloat(m[2], 64); err != nil || v.MassKg > 1000*t {
				return k + "=" + f.Tags[k]
			}
		}
	}
	return ""
}

// IsTimed reports whether a line is closed to trucks at some hours.
func IsTimed(f *routes.Feature) bool {
	for _, k := range conditionKeys {
		if t := f.Tags[k]; strings.HasPrefix(t, "no") && !byWeight.MatchString(t) {
			return true
		}
	}
	return false
}

var figure = regexp.MustCompile(`^([0-9]+(?:\.[0-9]+)?)\s*([a-zA-Z]*)$`)

// massKg reads a weight: tonnes unless it names st (short tons), lbs or kg.
func massKg(text string) (float64, bool) {
	m := figure.FindStringSubmatch(strings.TrimSpace(text))
	if m == nil {
		return 0, false
	}
	v, err := strconv.ParseFloat(m[1], 64)
	if err != nil || v <= 0 {
		return 0, false
	}
	switch strings.ToLower(m[2]) {
	case "", "t":
		return 1000 * v, true
	case "kg":
		return v, true
	case "st":
		return 2000 * routes.PoundKg * v, true
	case "lbs", "lb":
		return routes.PoundKg * v, true
	}
	return 0, false
}

var feet = regexp.MustCompile(`^([0-9]+)'\s*(?:([0-9]+(?:\.[0-9]+)?)\s*")?$`)

// lengthM reads a height or length: metres unless it names feet.
func lengthM(text string) (float64, bool) {
	text = strings.TrimSpace(text)
	if m := feet.FindStringSubmatch(text); m != nil {
		ft, err := strconv.ParseFloat(m[1], 64)
		in := 0.0
		if m[2] != "" && err == nil {
			in, err = strconv.ParseFloat(m[2], 64)
		}
		return (ft + in/12) * terrain.FootM, err == nil && ft+in > 0
	}
	m := figure.FindStringSubmatch(text)
	if m == nil {
		return 0, false
	}
	v, err := strconv.ParseFloat(m[1], 64)
	if err != nil || v <= 0 {
		return 0, false
	}
	switch strings.ToLower(m[2]) {
	case "", "m":
		return v, true
	case "ft":
		return v * terrain.FootM, true
	}
	return 0, false
}

// Refusal is a line that a vehicle may not use, with the reason.
type Refusal struct {
	WayID string `json:"way_id"`
	Name  string `json:"name"`
	Why   string `json:"why"`
}

// Refusals lists the lines of a way that a vehicle may not use, each once.
func (g *Graph) Refusals(w Way, v Vehicle) []Refusal {
	out := []Refusal{}
	for _, i := range w.Edges {
		f := g.Feature(i)
		why := v.Refusal(f, g.edge(i).IsReversed)
		if why == "" || len(out) > 0 && out[len(out)-1].WayID == f.ID() {
			continue
		}
		name := f.Tags["name"]
		if name == "" {
			name = f.Tags["ref"]
		}
		out = append(out, Refusal{f.ID(), name, why})
	}
	return out
}

// Unstated is the length of a way without tags that matter to a truck.
type Unstated struct {
	WeightM float64 `json:"without_weight_limit_m"`
	TimedM  float64 `json:"closed_at_some_hours_m"`
	// UnderCount counts crossings under a bridge of the network without a stated height.
	UnderCount int `json:"bridges_without_height"`
}

// Unstated sums up the missing tags of the lines of a way.
func (g *Graph) Unstated(w Way) Unstated {
	var out Unstated
	for _, i := range w.Edges {
		e, f := g.edge(i), g.Feature(i)
		if f.Tags["maxweight"] == "" && f.Tags["maxweight:hgv"] == "" {
			out.WeightM += e.LengthM
		}
		if IsTimed(f) {
			out.TimedM += e.LengthM
		}
		if f.Tags["maxheight"] != "" || f.Tags["maxheight:physical"] != "" {
			continue
		}
		line := f.Line[e.First : e.Last+1]
		bound := line.Bound()
		for _, b := range g.bridges {
			if b != e.Feature && g.bounds[g.base(int(b))].Intersects(bound) && g.isOpen(int(b)) && crosses(line, g.line(int(b)).Line) {
				out.UnderCount++
			}
		}
	}
	return out
}

// crosses reports whether two lines cross inside a segment of each.
func crosses(a, b orb.LineString) bool {
	side := func(p, q, r orb.Point) float64 { return (q[0]-p[0])*(r[1]-p[1]) - (q[1]-p[1])*(r[0]-p[0]) }
	for i := 1; i < len(a); i++ {
		for k := 1; k < len(b); k++ {
			if side(a[i-1], a[i], b[k-1])*side(a[i-1], a[i], b[k]) < 0 && side(b[k-1], b[k], a[i-1])*side(b[k-1], b[k], a[i]) < 0 {
				return true
			}
		}
	}
	return false
}
