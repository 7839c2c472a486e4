package raster

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/airbusgeo/godal"

	"gradeline/terrain"
)

// WriteOptions set how a grid is written.
type WriteOptions struct {
	Format   string   // GDAL's name: "GTiff" (default), "COG" where GDAL has it, "SRTMHGT"
	Creation []string // GDAL creation options, "NAME=VALUE"
	NoData   float32  // stored for voids; 0 means -32768 with Int16 and NaN else
	Int16    bool     // whole metres, rounded; always so for SRTMHGT
}

// Write writes heights in metres to a raster file, with its CRS and unit. The file is
// complete or absent: it is made in a folder next to the target and renamed. A
// VertDatumLabel that GDAL accepts as a vertical CRS after the horizontal one
// ("EPSG:5703" or just "5703" after "EPSG:26913") makes a compound CRS; other labels
// are not stored. Heights that a 16-bit integer can't hold, or that equal NoData, are
// refused.
func Write(path string, g *terrain.Grid, o WriteOptions) error {
	if err := setup(); err != nil {
		return err
	}
	fail := func(what string, err error, fix string) error {
		return &terrain.Fault{Kind: terrain.ErrInput, File: path, What: what, Err: err, Fix: fix}
	}
	if err := o.complete(path, g); err != nil {
		return err
	}
	values, err := storedValues(g, o)
	if err != nil {
		return fail(err.Error(), nil, "write it as 32-bit floats, or choose another NoData")
	}
	sr, err := gridCRS(g)
	if err != nil {
		return fail(fmt.Sprintf("CRS %q", g.CRS), err, "use EPSG:CODE or a WKT text")
	}
	defer sr.Close()
	dir, err := os.MkdirTemp(filepath.Dir(path), ".gradeline-*")
	if err != nil {
		return fail("cannot be written", pathErr(err), "check that the folder exists and may be written")
	}
	defer os.RemoveAll(dir)
	made := filepath.Join(dir, filepath.Base(path))
	if err := writeRaster(made, g, o, values, sr); err != nil {
		return fail("cannot be written", err, "check the space left and the creation options")
	}
	if err := syncFile(made); err != nil {
		return fail("cannot be written", err, "check the space left")
	}
	if err := os.Rename(made, path); err != nil {
		return fail("cannot be written", err, "check that it is not a folder")
	}
	return nil
}

// complete checks the grid and fills in the defaults.
func (o *WriteOptions) complete(path string, g *terrain.Grid) error {
	fail := func(what string, err error, fix string) error {
		return &terrain.Fault{Kind: terrain.ErrInput, File: path, What: what, Err: err, Fix: fix}
	}
	if g.Cols < 1 || g.Rows < 1 || len(g.ElevationM) != g.Cols*g.Rows {
		return fail(fmt.Sprintf("a grid of %d x %d cells with %d heights", g.Cols, g.Rows, len(g.ElevationM)), nil, "pass one height for each cell")
	}
	if !(g.StepX > 0) || !(g.StepY > 0) || math.IsInf(g.StepX+g.StepY+g.WestX+g.NorthY, 0) || math.IsNaN(g.WestX+g.NorthY) {
		return fail("a grid without a finite position and positive steps", nil, "set WestX, NorthY, StepX and StepY")
	}
	if o.Format == "" {
		o.Format = "GTiff"
	}
	if o.Format != "GTiff" && o.Format != "COG" && o.Format != "SRTMHGT" {
		return fail(fmt.Sprintf("format %q", o.Format), nil, "use GTiff, COG or SRTMHGT")
	}
	if o.Format == "SRTMHGT" {
		o.Int16, o.NoData = true, -32768
	}
	if o.NoData == 0 {
		if o.NoData = nan32; o.Int16 {
			o.NoData = -32768
		}
	}
	return nil
}

func gridCRS(g *terrain.Grid) (*godal.SpatialRef, error) {
	quiet := godal.ErrLogger(collect(func(string) {}))
	if label := strings.TrimPrefix(g.VertDatumLabel, "EPSG:"); label != "" && strings.HasPrefix(g.CRS, "EPSG:") && !strings.Contains(g.CRS, "+") {
		if _, err := strconv.Atoi(label); err == nil {
			return godal.NewSpatialRef(g.CRS+"+"+label, quiet)
		}
	}
	return godal.NewSpatialRef(g.CRS, quiet)
}

// storedValues turns heights into what the file stores, []float32 or []int16.
func storedValues(g *terrain.Grid, o WriteOptions) (any, error) {
	if !o.Int16 {
		out := make([]float32, len(g.ElevationM))
		for i, v := range g.ElevationM {
			switch {
			case v != v:
				v = o.NoData
			case v == o.NoData || math.IsInf(float64(v), 0):
				return nil, fmt.Errorf("height %g of cell %d, which equals the no-data value", v, i)
			}
			out[i] = v
		}
		return out, nil
	}
	if o.NoData != float32(int16(o.NoData)) {
		return nil, fmt.Errorf("no-data value %g, which is not a 16-bit integer", o.NoData)
	}
	out := make([]int16, len(g.ElevationM))
	for i, v := range g.ElevationM {
		r := math.Round(float64(v))
		switch {
		case v != v:
			out[i] = int16(o.NoData)
		case r < math.MinInt16 || r > math.MaxInt16 || r == float64(o.NoData):
			return nil, fmt.Errorf("height %g of cell %d, which a 16-bit integer cannot hold", v, i)
		default:
			out[i] = int16(r)
		}
	}
	return out, nil
}

// writeRaster builds the grid in memory, describes it by a VRT that carries the
// unit (godal can't set one), and lets GDAL translate that into the format.
func writeRaster(path string, g *terrain.Grid, o WriteOptions, values any, sr *godal.SpatialRef) error {
	// A warning while writing (an unknown option, a name that does not suit the format) means that
	// the file differs from the request.
	warning := ""
	log := godal.ErrLogger(collect(func(m string) { warning = m }))
	dtype, name := godal.Float32, "Float32"
	if o.Int16 {
		dtype, name = godal.Int16, "Int16"
	}
	raw := vsimemName(".tif")
	ds, err := godal.Create(godal.GTiff, raw, 1, dtype, g.Cols, g.Rows, log)
	if err != nil {
		return err
	}
	defer godal.VSIUnlink(raw)
	err = ds.SetGeoTransform([6]float64{g.WestX, g.StepX, 0, g.NorthY, 0, -g.StepY}, godal.ErrLogger(collect(func(string) {})))
	if err == nil {
		err = ds.SetSpatialRef(sr, log)
	}
	if err == nil {
		err = ds.SetNoData(float64(o.NoData), log)
	}
	if err == nil {
		err = ds.Bands()[0].Write(0, 0, values, g.Cols, g.Rows, log)
	}
	if cerr := ds.Close(log); err == nil {
		err = cerr
	}
	if err != nil {
		return err
	}
	wkt, err := sr.WKT(log)
	if err != nil {
		return err
	}
	src, err := godal.Open(vrtOfGrid(raw, wkt, name, g, o), godal.Drivers("VRT"), log)
	if err != nil {
		return err
	}
	defer src.Close()
	dst, err := src.Translate(path, []string{"-of", o.Format}, godal.CreationOption(o.Creation...), log,
		godal.ConfigOption("GDAL_PAM_ENABLED=NO"))
	if err != nil {
		return err
	}
	if err := dst.Close(log); err != nil {
		return err
	}
	if warning != "" {
		return fmt.Errorf("GDAL: %s", warning)
	}
	return nil
}

func vrtOfGrid(raw, wkt, dtype string, g *terrain.Grid, o WriteOptions) string {
	esc := strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;").Replace
	num := func(v float64) string { return strconv.FormatFloat(v, 'g', 17, 64) }
	return fmt.Sprintf(`<VRTDataset rasterXSize="%d" rasterYSize="%d"><SRS dataAxisToSRSAxisMapping="%s">%s</SRS>`+
		`<GeoTransform>%s, %s, 0, %s, 0, %s</GeoTransform><VRTRasterBand dataType="%s" band="1"><NoDataValue>%s</NoDataValue>`+
		`<UnitType>m</UnitType><SimpleSource><SourceFilename relativeToVRT="0">%s</SourceFilename><SourceBand>1</SourceBand>`+
		`</SimpleSource></VRTRasterBand></VRTDataset>`,
		g.Cols, g.Rows, axisMapping(wkt), esc(wkt), num(g.WestX), num(g.StepX), num(g.NorthY), num(-g.StepY), dtype,
		strings.ToLower(num(float64(o.NoData))), raw)
}

// axisMapping makes GDAL treat x as east, whatever axis order the CRS has.
func axisMapping(wkt string) string {
	if sr, err := godal.NewSpatialRefFromWKT(wkt); err == nil {
		defer sr.Close()
		if sr.EPSGTreatsAsLatLong() {
			return "2,1"
		}
	}
	return "1,2"
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	err = f.Sync()
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	return err
}
