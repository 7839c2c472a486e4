package synth

import (
	"bytes"
	"fmt"
	"math"
	"os/exec"
	"strings"
	"testing"
)

// Against a reference program: PROJ's transverse Mercator (Karney's algorithm to
// n⁶) through gdaltransform of Debian's gdal-bin. Status: computed by the
// reference program at test time.
func TestTmercAgainstGDAL(t *testing.T) {
	d := newDice(11, 11)
	for _, p := range []tmerc{newTmerc(-40, 42), newTmerc(151.2345, -33.5), newTmerc(12, 61.75), newTmerc(-3.5, 0)} {
		var in bytes.Buffer
		var xs, ys []float64
		for i := 0; i < 50; i++ {
			x, y := d.between(-40e3, 40e3), d.between(-40e3, 40e3)
			xs, ys = append(xs, x), append(ys, y)
			fmt.Fprintf(&in, "%.6f %.6f\n", x, y)
		}
		cmd := exec.Command("gdaltransform", "-s_srs", p.proj4(), "-t_srs", "+proj=longlat +datum=WGS84 +no_defs", "-output_xy")
		cmd.Stdin = &in
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("gdaltransform of gdal-bin: %v", err)
		}
		lines := strings.Split(strings.TrimSpace(string(out)), "\n")
		if len(lines) != len(xs) {
			t.Fatalf("%d lines back for %d points", len(lines), len(xs))
		}
		for i, l := range lines {
			var lon, lat float64
			if _, err := fmt.Sscan(l, &lon, &lat); err != nil {
				t.Fatal(err)
			}
			gotLon, gotLat := p.lonLatFromXY(xs[i], ys[i])
			dE := (gotLon - lon) * math.Pi / 180 * wgs84A * math.Cos(lat*math.Pi/180)
			dN := (gotLat - lat) * math.Pi / 180 * wgs84A
			if off := math.Hypot(dE, dN); !(off < 1e-4) {
				t.Fatalf("%s (%.3f, %.3f): %.6f m from GDAL", p.proj4(), xs[i], ys[i], off)
			}
			x, y := p.xyFromLonLat(gotLon, gotLat)
			if off := math.Hypot(x-xs[i], y-ys[i]); !(off < 1e-6) {
				t.Fatalf("round trip is off by %g m", off)
			}
		}
	}
}

// A plane metre is a ground metre: near the origin the plane distance equals the
// geodesic one. Meridian arc of one degree from 42° N on WGS 84: 111 068 m by the
// usual series (from memory: 111132.954 − 559.822 cos 2φ + 1.175 cos 4φ at φ = 42.5°).
func TestTmercScaleIsOne(t *testing.T) {
	p := newTmerc(-40, 42)
	_, y := p.xyFromLonLat(-40, 43)
	φ := 42.5 * math.Pi / 180
	want := 111132.954 - 559.822*math.Cos(2*φ) + 1.175*math.Cos(4*φ)
	if math.Abs(y-want) > 0.5 {
		t.Errorf("one degree is %.3f m, want %.3f m", y, want)
	}
}
