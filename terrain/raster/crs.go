package raster

import (
	"math"
	"strconv"
	"strings"

	"github.com/airbusgeo/godal"

	"gradeline/terrain"
)

// crsText is what a raster's CRS says, taken apart.
type crsText struct {
	Horizontal string // WKT 1 of the horizontal part; empty if there is none
	Name       string // "EPSG:26913", or the CRS's own name
	Datum      string // the vertical datum's name, or "unknown"
	Unit       terrain.VerticalUnit
	UnitOdd    string // name of a vertical unit that is none of ours
}

// crsTextFromWKT splits a WKT 1 text. A compound CRS gives its horizontal part,
// so that no vertical step is ever taken silently.
func crsTextFromWKT(wkt string) (crsText, error) {
	c := crsText{Datum: "unknown"}
	c.Horizontal = horizontalWKT(wkt)
	if c.Horizontal == "" {
		return c, nil
	}
	sr, err := godal.NewSpatialRefFromWKT(c.Horizontal)
	if err != nil {
		return c, err
	}
	defer sr.Close()
	if name, code := sr.AuthorityName(""), sr.AuthorityCode(""); name != "" && code != "" {
		c.Name = name + ":" + code
	} else if n, ok := sr.AttrValue("PROJCS", 0); ok {
		c.Name = n
	} else if n, ok := sr.AttrValue("GEOGCS", 0); ok {
		c.Name = n
	}
	if !strings.HasPrefix(wkt, "COMPD_CS") {
		return c, nil
	}
	full, err := godal.NewSpatialRefFromWKT(wkt)
	if err != nil {
		return c, err
	}
	defer full.Close()
	if d, ok := full.AttrValue("VERT_CS|VERT_DATUM", 0); ok && d != "" && !strings.EqualFold(d, "unknown") {
		c.Datum = d
	}
	if f, ok := full.AttrValue("VERT_CS|UNIT", 1); ok {
		if c.Unit = unitFromFactor(f); c.Unit == terrain.UnitUnknown {
			c.UnitOdd, _ = full.AttrValue("VERT_CS|UNIT", 0)
		}
	}
	return c, nil
}

// horizontalWKT cuts the projected or geographic part out of a WKT 1 text.
func horizontalWKT(wkt string) string {
	start := strings.Index(wkt, "PROJCS[")
	if start < 0 {
		start = strings.Index(wkt, "GEOGCS[")
	}
	if start < 0 {
		return ""
	}
	depth, quoted := 0, false
	for i := start; i < len(wkt); i++ {
		switch c := wkt[i]; {
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '[':
			depth++
		case c == ']':
			if depth--; depth == 0 {
				return wkt[start : i+1]
			}
		}
	}
	return ""
}

// unitFromFactor reads the metres per unit of a WKT UNIT node.
func unitFromFactor(factor string) terrain.VerticalUnit {
	f, err := strconv.ParseFloat(factor, 64)
	if err != nil {
		return terrain.UnitUnknown
	}
	for _, u := range []terrain.VerticalUnit{terrain.Metre, terrain.Foot, terrain.USSurveyFoot} {
		// The two feet differ by 2 parts in a million; texts carry at least 9 digits.
		if math.Abs(f/u.MetresPer()-1) < 2e-7 {
			return u
		}
	}
	return terrain.UnitUnknown
}

// unitFromBandText reads GDAL's free-text band unit.
func unitFromBandText(s string) terrain.VerticalUnit {
	switch strings.ToLower(strings.TrimSpace(strings.ReplaceAll(s, "_", " "))) {
	case "m", "metre", "meter", "metres", "meters":
		return terrain.Metre
	case "ft", "foot", "feet", "international foot", "international feet":
		return terrain.Foot
	case "us-ft", "ftus", "us survey foot", "us survey feet", "u.s. survey foot", "us foot", "foot us":
		return terrain.USSurveyFoot
	}
	return terrain.UnitUnknown
}
