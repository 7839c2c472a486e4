package serve

import (
	"bytes"
	"container/list"
	"context"
	"math"
	"net/http"
	"strconv"
	"strings"
	"sync"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/terrain"
)

// Tiles of the map's background: hill shading and contours from the server's terrain, in Web
// Mercator squares of 256 pixels (OpenStreetMap wiki, Slippy map tilenames; formulas from memory).
const (
	tilePixels   = 256
	mostZoom     = 17
	mostTiles    = 1000 // kept in memory, some 40 kB each
	tilesAtATime = 2
	// mostPixelCells is the largest number of terrain cells across a pixel: beyond that a tile
	// would read far more of the terrain than it shows.
	mostPixelCells = 24
)

// tiles makes tiles and keeps the most recent.
type tiles struct {
	surface terrain.Surface
	least   int // zoom
	turns   chan struct{}

	mu   sync.Mutex
	made map[tileAt]*list.Element // of keptTile
	used *list.List               // the most recent first
}

type tileAt struct{ zoom, x, y int }

type keptTile struct {
	at  tileAt
	png []byte
}

// newTiles is nil without a terrain.
func newTiles(surface terrain.Surface) *tiles {
	if surface == nil {
		return nil
	}
	t := &tiles{surface: surface, turns: make(chan struct{}, tilesAtATime), made: map[tileAt]*list.Element{}, used: list.New()}
	finestM := math.Inf(1)
	for _, r := range surface.Sources() {
		if r.CellM > 0 {
			finestM = math.Min(finestM, r.CellM)
		}
	}
	for t.least < mostZoom && pixelM(t.least, 0) > mostPixelCells*finestM {
		t.least++
	}
	return t
}

// pixelM is the ground length of a pixel at a zoom and a latitude.
func pixelM(zoom int, latDeg float64) float64 {
	const equatorM = 2 * math.Pi * 6378137
	return equatorM * math.Cos(latDeg*math.Pi/180) / tilePixels / math.Exp2(float64(zoom))
}

// contourSteps are distances between contours, metres.
var contourSteps = []float64{5, 10, 20, 50, 100, 200}

// contourM is the distance between contours for a pixel's length on the ground: about that of five
// pixels, so that a slope of 1 in 5 has a line every 25 pixels.
func contourM(pixelM float64) float64 {
	for _, step := range contourSteps {
		if step >= 5*pixelM {
			return step
		}
	}
	return 0
}

// latDeg is the latitude of a pixel row of the whole map at a zoom.
func latDeg(row float64, zoom int) float64 {
	n := math.Pi * (1 - 2*row/tilePixels/math.Exp2(float64(zoom)))
	return math.Atan(math.Sinh(n)) * 180 / math.Pi
}

func lonDeg(col float64, zoom int) float64 {
	return col/tilePixels/math.Exp2(float64(zoom))*360 - 180
}

// tile is the PNG of a tile, new or from the cache.
func (t *tiles) tile(ctx context.Context, at tileAt) ([]byte, error) {
	if b := t.kept(at); b != nil {
		return b, nil
	}
	select {
	case t.turns <- struct{}{}:
		defer func() { <-t.turns }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	if b := t.kept(at); b != nil { // another request made it meanwhile
		return b, nil
	}
	b, err := t.draw(ctx, at)
	if err == nil {
		t.keep(at, b)
	}
	return b, err
}

func (t *tiles) kept(at tileAt) []byte {
	t.mu.Lock()
	defer t.mu.Unlock()
	e := t.made[at]
	if e == nil {
		return nil
	}
	t.used.MoveToFront(e)
	return e.Value.(*keptTile).png
}

func (t *tiles) keep(at tileAt, png []byte) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.made[at] = t.used.PushFront(&keptTile{at, png})
	for t.used.Len() > mostTiles {
		last := t.used.Back()
		delete(t.made, last.Value.(*keptTile).at)
		t.used.Remove(last)
	}
}

// draw samples the terrain at the tile's pixels and a border around it.
func (t *tiles) draw(ctx context.Context, at tileAt) ([]byte, error) {
	const side = tilePixels + 2
	points := make([]terrain.Point, 0, side*side)
	col, row := float64(at.x*tilePixels)-1, float64(at.y*tilePixels)-1
	for r := range side {
		lat := latDeg(row+float64(r)+0.5, at.zoom)
		for c := range side {
			lon := math.Remainder(lonDeg(col+float64(c)+0.5, at.zoom), 360)
			points = append(points, terrain.Point{LonDeg: lon, LatDeg: lat})
		}
	}
	samples := make([]terrain.Sample, len(points))
	if err := t.surface.Sample(ctx, points, samples); err != nil {
		return nil, err
	}
	h := plot.Hillshade{WestDeg: lonDeg(col, at.zoom), EastDeg: lonDeg(col+side, at.zoom), NorthDeg: latDeg(row, at.zoom), SouthDeg: latDeg(row+side, at.zoom), Cols: side, Rows: side}
	if h.WestDeg < -180 { // the border of the map's first column
		h.WestDeg, h.EastDeg = h.WestDeg+360, h.EastDeg+360
	}
	h.ElevationM = make([]float64, len(samples))
	for i := range samples {
		h.ElevationM[i] = samples[i].ElevationM
	}
	var b bytes.Buffer
	err := h.TilePNG(&b, contourM(pixelM(at.zoom, (h.NorthDeg+h.SouthDeg)/2)))
	return b.Bytes(), err
}

// tilePicture answers /tiles/ZOOM/X/Y.png.
func (s *Server) tilePicture(w http.ResponseWriter, r *http.Request) {
	at, ok := tileOf(r.PathValue("z"), r.PathValue("x"), strings.TrimSuffix(r.PathValue("y"), ".png"))
	if s.tiles == nil || !ok || at.zoom < s.tiles.least {
		s.fail(w, r, &catalog.Fault{Kind: catalog.ErrNotFound, What: "there is no such tile"})
		return
	}
	b, err := s.tiles.tile(r.Context(), at)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "image/png")
	w.Header().Set("Cache-Control", "private, max-age=3600")
	_, _ = w.Write(b)
}

// tileOf reads a tile's place; false where it does not exist.
func tileOf(zoom, x, y string) (tileAt, bool) {
	var at tileAt
	for _, n := range []struct {
		text string
		to   *int
	}{{zoom, &at.zoom}, {x, &at.x}, {y, &at.y}} {
		v, err := strconv.Atoi(n.text)
		if err != nil || v < 0 {
			return at, false
		}
		*n.to = v
	}
	return at, at.zoom <= mostZoom && at.x < 1<<at.zoom && at.y < 1<<at.zoom
}
