package vector

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// DefaultRoads are the highway classes that are read unless others are named,
// each with its links.
var DefaultRoads = []string{"motorway", "trunk", "primary", "secondary", "tertiary"}

// knownRoads are the highway classes that a truck could meet (OpenStreetMap wiki,
// Key:highway, from memory).
var knownRoads = []string{"motorway", "trunk", "primary", "secondary", "tertiary", "unclassified", "residential", "service", "track", "living_street", "road"}

func (o Options) roadNames() []string {
	if len(o.Roads) == 0 {
		return DefaultRoads
	}
	return o.Roads
}

// roadClasses are the values of highway that are wanted.
func roadClasses(names []string) (map[string]bool, error) {
	if len(names) == 0 {
		names = DefaultRoads
	}
	out := map[string]bool{}
	for _, n := range names {
		n = strings.TrimSpace(n)
		base := strings.TrimSuffix(n, "_link")
		if !slices.Contains(knownRoads, base) {
			return nil, &routes.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%q is not a class of road", n), Fix: "name some of " + strings.Join(knownRoads, ", ")}
		}
		out[n] = true
		if n == base {
			out[base+"_link"] = true
		}
	}
	return out, nil
}

// CheckRoads reports a name that is not a class of road.
func CheckRoads(names []string) error {
	_, err := roadClasses(names)
	return err
}

// ParseBox reads west, south, east and north in degrees, with commas between.
func ParseBox(text string) (*orb.Bound, error) {
	b := orb.Bound{Min: orb.Point{math.NaN(), 0}}
	fields := strings.Split(text, ",")
	to := []*float64{&b.Min[0], &b.Min[1], &b.Max[0], &b.Max[1]}
	for i := 0; len(fields) == len(to) && i < len(to); i++ {
		v, err := strconv.ParseFloat(strings.TrimSpace(fields[i]), 64)
		if err != nil {
			v = math.NaN()
		}
		*to[i] = v
	}
	if err := checkBox(&b); err != nil {
		return nil, &routes.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%q is not a box", text), Fix: boxFix}
	}
	return &b, nil
}

const boxFix = "write west, south, east, north in degrees, as in 1.4,42.4,1.8,42.7"

// keptTags are the tags of a way that are used; the others would only fill the memory.
var keptTags = map[string]bool{}

func init() {
	for _, k := range []string{
		"name", "ref", "highway", "area", "junction", "oneway", "oneway:hgv", "layer", "bridge", "tunnel", "incline", "lanes", "surface",
		"maxspeed", "maxspeed:forward", "maxspeed:backward", "maxspeed:conditional",
		"maxspeed:hgv", "maxspeed:hgv:forward", "maxspeed:hgv:backward", "maxspeed:hgv:conditional",
		"access", "access:conditional", "vehicle", "motor_vehicle", "motor_vehicle:conditional", "goods", "hgv", "hgv:conditional", "hgv:forward", "hgv:backward",
		"maxweight", "maxweight:hgv", "maxweight:conditional", "maxweightrating", "maxweightrating:hgv", "maxheight", "maxheight:physical", "maxlength", "maxlength:hgv", "maxaxleload",
		"hazmat", "toll",
	} {
		keptTags[k] = true
	}
}

// implied adds the tags that OpenStreetMap implies: a roundabout and a motorway are
// one-way (wiki, Key:oneway, "implied oneway", from memory).
func implied(tags map[string]string) {
	if tags["oneway"] == "" && (tags["junction"] == "roundabout" || tags["junction"] == "circular" || tags["highway"] == "motorway") {
		tags["oneway"] = "yes"
	}
}

// hstore reads PostgreSQL's text form of tags, "key"=>"value","key"=>"value", which OGR writes into
// other_tags; the list ends at the first error.
func hstore(text string) map[string]string {
	out := map[string]string{}
	rest := text
	for len(out) < maxTags {
		key, after, ok := quoted(rest)
		if !ok {
			return out
		}
		after, ok = strings.CutPrefix(strings.TrimLeft(after, " "), "=>")
		if !ok {
			return out
		}
		after = strings.TrimLeft(after, " ")
		value, isNull := "", strings.HasPrefix(after, "NULL")
		if isNull {
			after = after[4:]
		} else if value, after, ok = quoted(after); !ok {
			return out
		}
		if !isNull {
			out[cleanText(key)] = cleanText(value)
		}
		rest = strings.TrimLeft(after, " ,")
	}
	return out
}

// quoted reads a text in double quotes, in which a backslash escapes.
func quoted(s string) (text, rest string, ok bool) {
	if !strings.HasPrefix(s, `"`) {
		return "", s, false
	}
	var b strings.Builder
	for i := 1; i < len(s); i++ {
		switch s[i] {
		case '\\':
			if i++; i == len(s) {
				return "", s, false
			}
			b.WriteByte(s[i])
		case '"':
			return b.String(), s[i+1:], true
		default:
			b.WriteByte(s[i])
		}
	}
	return "", s, false
}

// withOtherTags adds the tags that OGR keeps in other_tags when it converts an extract, and the way
// number.
func withOtherTags(f routes.Feature) routes.Feature {
	if id := f.Tags["osm_id"]; id != "" {
		f.WayID = id
	} else if id := f.Tags["osm_way_id"]; id != "" {
		f.WayID = id
	}
	text := f.Tags["other_tags"]
	if text == "" {
		return f
	}
	tags := make(map[string]string, len(f.Tags))
	for k, v := range hstore(text) {
		tags[k] = v
	}
	for k, v := range f.Tags {
		if k != "other_tags" {
			tags[k] = v
		}
	}
	implied(tags)
	f.Tags = tags
	return f
}
