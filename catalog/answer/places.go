package answer

import (
	"context"
	"fmt"
	"strings"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/store"
)

// FindPlace returns where a place is: "LON,LAT" in degrees, or a name in the catalogue. A site has
// one point. A descent has its crest; a road has the crests of its descents. Upper and lower case
// are equal. An unknown name is an *UnknownError.
func FindPlace(ctx context.Context, cat *store.Catalog, text string) ([]orb.Point, error) {
	if strings.Count(text, ",") == 1 {
		p, err := catalog.ParsePoint(text)
		if err == nil || !strings.ContainsFunc(text, isLetter) {
			return []orb.Point{p}, err
		}
	}
	sites, err := cat.Sites(ctx, store.SiteFilter{})
	if err != nil {
		return nil, err
	}
	es, err := cat.Descents(ctx, store.Filter{NoHolds: true})
	if err != nil {
		return nil, err
	}
	is := func(name string) bool { return name != "" && strings.EqualFold(name, strings.TrimSpace(text)) }
	var found []orb.Point
	var known []string
	for _, s := range sites {
		if is(s.ID) || is(s.Name) {
			found = append(found, orb.Point{s.Point.LonDeg, s.Point.LatDeg})
		}
		known = append(known, s.Name)
	}
	for i := range es {
		d := &es[i].Descent
		if is(d.ID) || is(d.Name) || is(d.Route) {
			found = append(found, orb.Point{d.CrestLonDeg, d.CrestLatDeg})
		}
		known = append(known, d.ID, d.Name, d.Route)
	}
	if len(found) == 0 {
		return nil, &UnknownError{What: "no place", Name: text, Known: known, Fix: "write LON,LAT in degrees, or the name of a site, road or descent"}
	}
	return found, nil
}

func isLetter(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r > 127 }

// checkNotSwapped refuses a point without any crest within a distance if the swapped coordinates
// have one.
func checkNotSwapped(all []catalog.Entry, near []orb.Point, mostM float64) error {
	if len(near) != 1 || len(crestsWithin(all, near, mostM)) > 0 {
		return nil
	}
	swapped := orb.Point{near[0][1], near[0][0]}
	if swapped[1] > 90 || swapped[1] < -90 || len(crestsWithin(all, []orb.Point{swapped}, mostM)) == 0 {
		return nil
	}
	return &catalog.Fault{Kind: catalog.ErrQuantity, What: fmt.Sprintf("no descent of the catalogue is near longitude %g, latitude %g, but some are with the two swapped", near[0][0], near[0][1]),
		Fix: fmt.Sprintf("longitude comes first: %g,%g", swapped[0], swapped[1])}
}
