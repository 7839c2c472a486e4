package overlay

import (
	"bytes"
	"errors"
	"io"
	"math"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/terrain"
)

func TestSitesOverlay(t *testing.T) {
	sites := []catalog.Site{
		{ID: "s1", Kind: catalog.BrakeCheck, Name: specimen.HostileName, Point: terrain.Point{LonDeg: -110.123456789, LatDeg: 44}, StationM: ptr(1150.0)},
		{ID: "s2", Kind: catalog.Pullout, Point: terrain.Point{LonDeg: 180, LatDeg: -17}},
	}
	d := conforms(t, keep(t, "sites.geojson", func(w io.Writer) error { return SitesOverlay(w, sites, true) }))
	if len(d.Features) != 2 || string(d.Features[0].Geometry.Coordinates) != "[-110.1234568,44]" || d.Features[0].Properties["name"] != specimen.HostileName || d.Features[1].Properties["station_m"] != nil {
		t.Errorf("%+v", d.Features)
	}
	if d.Gradeline["banner"] != wording.InventedBanner {
		t.Error("not marked as invented")
	}
	for name, ps := range map[string][]Place{
		"off Earth": {{ID: "a", LonDeg: 181}}, "no id": {{}}, "one id twice": {{ID: "a"}, {ID: "a"}}, "NaN": {{ID: "a", LatDeg: math.NaN()}},
		"NaN in the properties": {{ID: "a", Properties: map[string]any{"x_m": math.NaN()}}},
	} {
		if err := PlacesOverlay(io.Discard, ps, PlacesOptions{Kind: "signs"}); !errors.Is(err, terrain.ErrInput) && !errors.Is(err, catalog.ErrImpossible) {
			t.Errorf("%s: %v", name, err)
		}
	}
	signs := write(t, func(w io.Writer) error {
		return PlacesOverlay(w, nil, PlacesOptions{Kind: "signs", Cautions: []string{catalog.SignCaution}, Provenance: []catalog.Provenance{specimen.Entry(routes.Forward).Provenance}})
	})
	for _, want := range []string{catalog.SignCaution, "harrow.tif", "INVENTED"} {
		if !bytes.Contains(signs, []byte(want)) {
			t.Errorf("an overlay of signs lacks %q", want)
		}
	}
}
