package raster

import (
	"encoding/binary"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"gradeline/terrain"
)

var (
	sideDir   = flag.String("side.dir", filepath.Join("..", "..", "out", "bench"), "folder for the generated rasters and roads, kept between runs")
	sideProg  = flag.String("side.program", filepath.Join("..", "..", "bin", "gradeline"), "the gradeline program")
	sideCells = flag.Int("side.cells", 8192, "side of the 1 m raster in cells")
)

// ground makes hills: octaves of smooth noise from 20 km down to 80 m, slopes of a few
// per cent, and 3 cm of white noise as laser scans have it. Invented.
type ground struct{ lattice [9][64 * 64]float32 }

func newGround() *ground {
	g := &ground{}
	r := rand.New(rand.NewPCG(17, 4))
	for k := range g.lattice {
		for i := range g.lattice[k] {
			g.lattice[k][i] = float32(r.NormFloat64())
		}
	}
	return g
}

func (g *ground) heightM(x, y float64) float64 {
	z := 1500.0
	for k := range g.lattice {
		wave := 20000 / float64(int(1)<<k)
		u, v := x/wave+1e4, y/wave+1e4
		i, j := int(u), int(v)
		fu, fv := u-float64(i), v-float64(j)
		fu, fv = fu*fu*(3-2*fu), fv*fv*(3-2*fv)
		l := &g.lattice[k]
		at := func(i, j int) float64 { return float64(l[(j&63)<<6|i&63]) }
		a := at(i, j) + fu*(at(i+1, j)-at(i, j))
		b := at(i, j+1) + fu*(at(i+1, j+1)-at(i, j+1))
		z += .012 * wave * math.Pow(.75, float64(k)) * (a + fv*(b-a))
	}
	return z
}

// fill fills a grid, rows shared out between two goroutines.
func (g *ground) fill(t *terrain.Grid, metres func(col, row int) (x, y float64)) {
	t.ElevationM = make([]float32, t.Cols*t.Rows)
	var wg sync.WaitGroup
	for half := range 2 {
		wg.Go(func() {
			for r := half; r < t.Rows; r += 2 {
				noise := rand.New(rand.NewPCG(uint64(r), 5))
				for c := range t.Cols {
					x, y := metres(c, r)
					t.ElevationM[r*t.Cols+c] = float32(g.heightM(x, y) + .03*noise.NormFloat64())
				}
			}
		})
	}
	wg.Wait()
}

// sideRaster is one kind of raster of the comparison.
type sideRaster struct {
	name, what string
	path       string     // for those who read one file
	folder     string     // of tiles, where there is one
	box        [4]float64 // west, south, east, north: where roads run
}

const degreeM = 111320.0

// made runs make unless what it makes is there; make writes whole files.
func made(b testing.TB, path string, make func()) string {
	if _, err := os.Stat(path); err != nil {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			b.Fatal(err)
		}
		make()
	}
	return path
}

// sideRasters makes the three kinds, and a folder and a VRT of many tiles.
func sideRasters(b testing.TB) []sideRaster {
	g := newGround()
	cog := []string{"COMPRESS=DEFLATE", "PREDICTOR=3", "BLOCKSIZE=512", "OVERVIEWS=NONE", "NUM_THREADS=2", "BIGTIFF=IF_SAFER"}
	third := filepath.Join(*sideDir, "third.tif")
	made(b, third, func() {
		const cell = 1.0 / 10800
		t := &terrain.Grid{Cols: 10812, Rows: 10812, WestX: -105 - 6*cell, NorthY: 40 + 6*cell, StepX: cell, StepY: cell, CRS: "EPSG:4269"}
		g.fill(t, func(c, r int) (x, y float64) { return float64(c) * cell * degreeM * .77, -float64(r) * cell * degreeM })
		write(b, third, t, WriteOptions{Format: "COG", Creation: cog})
	})
	metre := filepath.Join(*sideDir, fmt.Sprintf("metre%d.tif", *sideCells))
	made(b, metre, func() {
		n := *sideCells
		t := &terrain.Grid{Cols: n, Rows: n, WestX: 500000 - float64(n)/2, NorthY: 4400000 + float64(n)/2, StepX: 1, StepY: 1, CRS: "EPSG:26913"}
		g.fill(t, func(c, r int) (x, y float64) { return float64(c), -float64(r) })
		write(b, metre, t, WriteOptions{Format: "COG", Creation: cog})
	})
	hgt := filepath.Join(*sideDir, "hgt", "N40E010.hgt")
	made(b, hgt, func() {
		t := &terrain.Grid{Cols: 3601, Rows: 3601}
		g.fill(t, func(c, r int) (x, y float64) { return float64(c) / 3600 * degreeM * .77, -float64(r) / 3600 * degreeM })
		for i := range 3601 { // neighbours that are links to one tile agree where they overlap
			t.ElevationM[3601*i+3600] = t.ElevationM[3601*i]
		}
		copy(t.ElevationM[3601*3600:], t.ElevationM[:3601])
		raw := make([]byte, 0, 2*len(t.ElevationM))
		for _, z := range t.ElevationM {
			raw = binary.BigEndian.AppendUint16(raw, uint16(int16(math.Round(float64(z)))))
		}
		if err := os.WriteFile(hgt+".part", raw, 0o644); err != nil {
			b.Fatal(err)
		}
		if err := os.Rename(hgt+".part", hgt); err != nil {
			b.Fatal(err)
		}
	})
	half := float64(*sideCells) / 2 * .98 / degreeM
	return []sideRaster{
		{name: "1/3 s", what: "10812² float32, COG, DEFLATE, predictor 3", path: third, box: [4]float64{-104.99, 39.01, -104.01, 39.99}},
		{name: "1 s", what: "3601² 16-bit, SRTM HGT", path: hgt, box: [4]float64{10.01, 40.01, 10.99, 40.99}},
		{name: "1 m", what: fmt.Sprintf("%d² float32, UTM, COG, DEFLATE, predictor 3", *sideCells), path: metre,
			box: [4]float64{-105 - half/.77, 39.7499 - half, -105 + half/.77, 39.7499 + half}},
	}
}

// sideTiles makes a folder of n HGT tiles, links to one, in a square of degrees, and
// a VRT over them.
func sideTiles(b testing.TB, hgt string, n int) sideRaster {
	side := int(math.Ceil(math.Sqrt(float64(n))))
	dir, err := filepath.Abs(filepath.Join(*sideDir, fmt.Sprintf("world%d", n)))
	if err != nil {
		b.Fatal(err)
	}
	hgt, err = filepath.Abs(hgt)
	if err != nil {
		b.Fatal(err)
	}
	vrt := dir + ".vrt"
	made(b, vrt, func() {
		if err := os.MkdirAll(dir, 0o755); err != nil {
			b.Fatal(err)
		}
		var list strings.Builder
		for i := range n {
			lat, name := i/side-side/2, "N"
			if lat < 0 {
				name = "S"
			}
			path := filepath.Join(dir, fmt.Sprintf("%s%02dE%03d.hgt", name, max(lat, -lat), i%side))
			_ = os.Remove(path) // of a run that was cut short
			if err := os.Symlink(hgt, path); err != nil {
				b.Fatal(err)
			}
			fmt.Fprintln(&list, path)
		}
		if err := os.WriteFile(dir+".txt", []byte(list.String()), 0o644); err != nil {
			b.Fatal(err)
		}
		tool(b, "gdalbuildvrt", "-q", "-input_file_list", dir+".txt", vrt)
	})
	south := -float64(side / 2)
	rows := math.Floor(float64(n) / float64(side))
	return sideRaster{name: fmt.Sprintf("%d tiles", n), what: "1 s HGT tiles and a VRT over them", path: vrt, folder: dir,
		box: [4]float64{.01, south + .01, float64(side) - .01, south + rows - .01}}
}

// sideRoads makes winding roads of 20 km in a box, a point each 10 m: as points for
// the samplers and as GeoJSON lines with a vertex each 50 m for the whole survey.
func sideRoads(b testing.TB, r sideRaster, km int) (points, text, lines string) {
	base := filepath.Join(*sideDir, "roads "+strings.ReplaceAll(r.name, "/", "-")+fmt.Sprintf(" %d km", km))
	points, text, lines = base+".f64", base+".txt", base+".geojson"
	made(b, lines, func() {
		rnd := rand.New(rand.NewPCG(uint64(km), 20))
		var raw []byte
		var txt, geo strings.Builder
		geo.WriteString(`{"type":"FeatureCollection","features":[`)
		for n := range max(1, km/20) {
			x, y := r.box[0]+rnd.Float64()*(r.box[2]-r.box[0]), r.box[1]+rnd.Float64()*(r.box[3]-r.box[1])
			stretch := math.Cos(y * math.Pi / 180)
			heading, bend := rnd.Float64()*2*math.Pi, 0.0
			if n > 0 {
				geo.WriteByte(',')
			}
			fmt.Fprintf(&geo, "\n{\"type\":\"Feature\",\"properties\":{\"name\":\"Road %d\"},\"geometry\":{\"type\":\"LineString\",\"coordinates\":[", n+1)
			for i := range 100 * min(km, 20) {
				bend += -.05*bend + .02*rnd.NormFloat64()
				heading += bend * .1
				x += 10 / degreeM / stretch * math.Cos(heading)
				y += 10 / degreeM * math.Sin(heading)
				if x < r.box[0] || x > r.box[2] || y < r.box[1] || y > r.box[3] {
					x, y = min(max(x, r.box[0]), r.box[2]), min(max(y, r.box[1]), r.box[3])
					heading = math.Atan2((r.box[1]+r.box[3])/2-y, ((r.box[0]+r.box[2])/2-x)*stretch)
				}
				raw = binary.LittleEndian.AppendUint64(raw, math.Float64bits(x))
				raw = binary.LittleEndian.AppendUint64(raw, math.Float64bits(y))
				fmt.Fprintf(&txt, "%.10f %.10f\n", x, y)
				if i%5 == 0 {
					if i > 0 {
						geo.WriteByte(',')
					}
					fmt.Fprintf(&geo, "[%.7f,%.7f]", x, y)
				}
			}
			geo.WriteString("]}}")
		}
		geo.WriteString("\n]}\n")
		for path, b2 := range map[string][]byte{points: raw, text: []byte(txt.String())} {
			if err := os.WriteFile(path, b2, 0o644); err != nil {
				b.Fatal(err)
			}
		}
		if err := writeWhole(lines, []byte(geo.String())); err != nil {
			b.Fatal(err)
		}
	})
	return points, text, lines
}
