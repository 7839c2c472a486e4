package vector

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strings"

	"gradeline/routes"
	"gradeline/terrain"
)

// crs checks a crs member of the GeoJSON of 2008, which RFC 7946 section 4 removed: it may only
// name the system that RFC 7946 prescribes.
func (rd *reader) crs(depth int) error {
	b, err := rd.raw(depth)
	if err != nil {
		return err
	}
	fault := func(kind error, what string) error {
		return &routes.Fault{Kind: kind, File: rd.file, Feature: rd.where(), What: what,
			Fix: "reproject it to WGS 84: ogr2ogr -t_srs EPSG:4326 -lco RFC7946=YES out.geojson in.geojson"}
	}
	if string(b) == "null" {
		return fault(terrain.ErrNoCRS, `"crs": null says that its coordinates are in no known system`)
	}
	var v struct {
		Type       string
		Properties struct{ Name string }
	}
	if err := json.Unmarshal(b, &v); err != nil || v.Type != "name" || v.Properties.Name == "" {
		return fault(terrain.ErrNoCRS, "its crs member names no coordinate reference system")
	}
	if !isWGS84(v.Properties.Name) {
		return fault(terrain.ErrInput, fmt.Sprintf("its coordinates are in %s, GeoJSON needs WGS 84 longitude and latitude", cleanText(v.Properties.Name)))
	}
	return nil
}

var wgs84 = regexp.MustCompile(`^(EPSG:(4326|4979)|URN:OGC:DEF:CRS:EPSG:[0-9.]*:(4326|4979)|(URN:OGC:DEF:CRS:)?OGC:([0-9.]*:)?CRS84H?|` +
	`HTTPS?://WWW\.OPENGIS\.NET/DEF/CRS/(EPSG/[0-9.]+/(4326|4979)|OGC/[0-9.]+/CRS84H?)|CRS84H?)$`)

// isWGS84 knows the names of WGS 84 that writers of GeoJSON use. All of them put longitude first,
// even where the authority's axis order is the other.
func isWGS84(name string) bool {
	return wgs84.MatchString(strings.ToUpper(strings.TrimSpace(name)))
}
