package raster

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/airbusgeo/godal"

	"gradeline/terrain"
)

// wantFault checks kind, one line, and that the text holds what a reader needs.
func wantFault(t *testing.T, err error, kind error, texts ...string) {
	t.Helper()
	var f *terrain.Fault
	if !errors.As(err, &f) || !errors.Is(err, kind) {
		t.Errorf("%v is no fault of kind %v", err, kind)
		return
	}
	msg := err.Error()
	if strings.Contains(msg, "\n") || f.Fix == "" {
		t.Errorf("%q: more than a line, or no fix", msg)
	}
	for _, s := range texts {
		if !strings.Contains(msg, s) {
			t.Errorf("%q lacks %q", msg, s)
		}
	}
}

func openFault(paths ...string) error {
	s, err := Open(context.Background(), paths, Options{})
	if err == nil {
		s.Close()
	}
	return err
}

func TestBadFiles(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.tif"), flat(1500), WriteOptions{Creation: []string{"COMPRESS=DEFLATE"}})
	text, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	put := func(name string, b []byte) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, b, 0o644); err != nil {
			t.Fatal(err)
		}
		return p
	}
	wantFault(t, openFault(filepath.Join(dir, "nowhere.tif")), terrain.ErrRead, "nowhere.tif", "no such file")
	wantFault(t, openFault(put("empty.tif", nil)), terrain.ErrRead, "empty.tif", "empty")
	wantFault(t, openFault(put("text.tif", []byte("this is no raster"))), terrain.ErrRead, "text.tif")
	wantFault(t, openFault(put("cut.tif", text[:len(text)/2])), terrain.ErrRead, "cut.tif")
	wantFault(t, openFault(put("N39W106.hgt", make([]byte, 1201*1201*2-5))), terrain.ErrRead, "N39W106.hgt")
	empty := filepath.Join(dir, "folder")
	if err := os.Mkdir(empty, 0o755); err != nil {
		t.Fatal(err)
	}
	wantFault(t, openFault(empty), terrain.ErrRead, "folder", "no raster found")
	wantFault(t, openFault("https://example.com/x.tif"), terrain.ErrInput, "x.tif")
	wantFault(t, openFault("/vsizip/"+good), terrain.ErrInput, "good.tif")

	tr := func(name string, args ...string) string {
		p := filepath.Join(dir, name)
		gdalRun(t, "", "gdal_translate", append(append([]string{"-q"}, args...), good, p)...)
		return p
	}
	nocrs := filepath.Join(dir, "nocrs.tif")
	gdalRun(t, "", "gdal_create", "-q", "-outsize", "5", "5", "-ot", "Float32", "-a_ullr", "0", "5", "5", "0", nocrs)
	wantFault(t, openFault(nocrs), terrain.ErrNoCRS, "nocrs.tif", "-a_srs")
	wantFault(t, openFault(tr("nounit.asc", "-of", "AAIGrid", "--config", "GDAL_PAM_ENABLED", "NO")), terrain.ErrUnit, "nounit.asc", "--vertical-unit m|ft|us-ft")
	wantFault(t, openFault(edited(t, good, "<UnitType>m</UnitType>", "<UnitType>fathom</UnitType>")), terrain.ErrUnit, "fathom", "--vertical-unit")
	wantFault(t, openFault(tr("complex.tif", "-ot", "CFloat32")), terrain.ErrRead, "CFloat32")
	wantFault(t, openFault(tr("picture.tif", "-ot", "Byte", "-b", "1", "-b", "1", "-b", "1", "-co", "PHOTOMETRIC=RGB")), terrain.ErrRead, "picture")
	noplace := filepath.Join(dir, "noplace.tif")
	gdalRun(t, "", "gdal_create", "-outsize", "5", "5", "-ot", "Float32", noplace)
	wantFault(t, openFault(noplace), terrain.ErrRead, "noplace.tif", "-a_ullr")

	t.Setenv("GTIFF_POINT_GEO_IGNORE", "YES")
	wantFault(t, openFault(good), terrain.ErrInput, "GTIFF_POINT_GEO_IGNORE")
}

// A GeoTIFF that was cut off while it was copied: the directory at its start is
// whole, blocks at its end are missing.
func TestCutOffCOG(t *testing.T) {
	dir := t.TempDir()
	g := grid("EPSG:26913", 490000, 4410000, 10, 600, 600, hills)
	cog := write(t, filepath.Join(dir, "cog.tif"), g, WriteOptions{Format: "COG", Creation: []string{"BLOCKSIZE=128"}})
	text, err := os.ReadFile(cog)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(cog, text[:len(text)*2/3], 0o644); err != nil {
		t.Fatal(err)
	}
	wantFault(t, openFault(cog), terrain.ErrRead, "cog.tif", "truncated")
}

// A block that can't be decoded costs its own points and a warning.
func TestDamagedBlock(t *testing.T) {
	dir := t.TempDir()
	g := grid("EPSG:26913", 490000, 4410000, 10, 512, 512, hills)
	file := write(t, filepath.Join(dir, "x.tif"), g, WriteOptions{Creation: []string{"TILED=YES", "BLOCKXSIZE=256", "BLOCKYSIZE=256", "COMPRESS=DEFLATE"}})
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	// Spoil the head of the second of four blocks. (Damage inside a DEFLATE stream may
	// go unnoticed: libtiff doesn't compare the stream's checksum once it has enough.)
	ds, err := openDataset(file, false, openConfig, func(string) {})
	if err != nil {
		t.Fatal(err)
	}
	mid, err := strconv.Atoi(ds.Bands()[0].Metadata("BLOCK_OFFSET_1_0", godal.Domain("TIFF")))
	ds.Close()
	if err != nil {
		t.Fatal(err)
	}
	copy(text[mid:], bytes.Repeat([]byte{0xff}, 64))
	if err := os.WriteFile(file, text, 0o644); err != nil {
		t.Fatal(err)
	}
	s := open(t, Options{}, file)
	var pts []terrain.Point
	for r := range 40 {
		for c := range 40 {
			pts = append(pts, terrain.Point{LonDeg: -105.115 + float64(c)*.0014, LatDeg: 39.838 - float64(r)*.0011})
		}
	}
	counts := map[terrain.Miss]int{}
	for _, o := range sample(t, s, pts) {
		counts[o.Miss]++
	}
	if counts[terrain.Unreadable] < 300 || counts[terrain.Hit] < 900 || len(counts) != 2 {
		t.Errorf("%v", counts)
	}
	if w := s.Warnings(); len(w) != 1 || !strings.Contains(w[0], "x.tif: block at column 256, row 0") {
		t.Errorf("%q", w)
	}
}

// A VRT must not make us read what isn't in its own folder, or anything but plain
// mosaics.
func TestHostileVRT(t *testing.T) {
	dir := t.TempDir()
	inner := filepath.Join(dir, "inner")
	if err := os.Mkdir(inner, 0o755); err != nil {
		t.Fatal(err)
	}
	outside := write(t, filepath.Join(dir, "secret.tif"), flat(1500), WriteOptions{})
	write(t, filepath.Join(inner, "x.tif"), flat(1500), WriteOptions{})
	if err := os.WriteFile(filepath.Join(inner, "wms.tif"), []byte(`<GDAL_WMS><Service name="TMS"><ServerUrl>http://example.com/</ServerUrl></Service></GDAL_WMS>`), 0o644); err != nil {
		t.Fatal(err)
	}
	const head = `<VRTDataset rasterXSize="20" rasterYSize="20"><SRS>EPSG:26913</SRS><GeoTransform>499900,10,0,4400100,0,-10</GeoTransform>`
	band := func(src string) string {
		return head + `<VRTRasterBand dataType="Float32" band="1"><UnitType>m</UnitType>` + src + `</VRTRasterBand></VRTDataset>`
	}
	source := func(attr, name string) string {
		return band(`<SimpleSource><SourceFilename ` + attr + `>` + name + `</SourceFilename><SourceBand>1</SourceBand></SimpleSource>`)
	}
	cases := map[string]string{
		"absolute":  source(`relativeToVRT="0"`, outside),
		"up":        source(`relativeToVRT="1"`, "../secret.tif"),
		"curl":      source(`relativeToVRT="0"`, "/vsicurl/http://example.com/x.tif"),
		"zip":       source(`relativeToVRT="1"`, "/vsizip/x.zip/x.tif"),
		"url":       source(`relativeToVRT="0"`, "http://example.com/x.tif"),
		"loose":     source(`relativeToVRT="0"`, "x.tif"),
		"subset":    source(`relativeToVRT="1"`, "GTIFF_DIR:1:x.tif"),
		"inline":    source(`relativeToVRT="0"`, "&lt;VRTDataset/&gt;"),
		"wms":       source(`relativeToVRT="1"`, "wms.tif"),
		"self":      source(`relativeToVRT="1"`, "self.vrt"),
		"attribute": band(`<SimpleSource SourceFilename="` + outside + `"><SourceBand>1</SourceBand></SimpleSource>`),
		"both": band(`<SimpleSource SourceFilename="` + outside + `"><SourceFilename relativeToVRT="1">x.tif</SourceFilename>` +
			`<SourceBand>1</SourceBand></SimpleSource>`),
		"lower": band(`<SimpleSource><sourcefilename relativeToVRT="0">` + outside + `</sourcefilename></SimpleSource>`),
		"raw": head + `<VRTRasterBand dataType="Byte" band="1" subClass="VRTRawRasterBand"><SourceFilename relativeToVRT="0">/etc/hostname</SourceFilename>` +
			`</VRTRasterBand></VRTDataset>`,
		"pixel": head + `<VRTRasterBand dataType="Float32" band="1" subClass="VRTDerivedRasterBand"><PixelFunctionType>sqrt</PixelFunctionType></VRTRasterBand></VRTDataset>`,
		"warp":  `<VRTDataset rasterXSize="2" rasterYSize="2" subClass="VRTWarpedDataset"><GDALWarpOptions><SourceDataset>` + outside + `</SourceDataset></GDALWarpOptions></VRTDataset>`,
		"dtd":   `<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/hostname">]>` + source(`relativeToVRT="1"`, "x.tif"),
	}
	for name, text := range cases {
		p := filepath.Join(inner, name+".vrt")
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		err := openFault(p)
		if err == nil {
			t.Errorf("%s was opened", name)
			continue
		}
		kind := terrain.ErrInput
		if name == "wms" {
			kind = terrain.ErrRead
		}
		wantFault(t, err, kind)
		os.Remove(p)
	}
	// The same with a plain source opens, also under another file's name.
	ok := filepath.Join(inner, "ok.tif")
	if err := os.WriteFile(ok, []byte(source(`relativeToVRT="1"`, "x.tif")), 0o644); err != nil {
		t.Fatal(err)
	}
	if got, _ := heightIn(t, Options{}, ok); got.ElevationM != 1500 {
		t.Errorf("%+v", got)
	}
	// Files beside a raster.
	for name, text := range map[string]string{"x.tif.msk": source(`relativeToVRT="0"`, outside), "x.tif.ovr": "<GDAL_WMS/>",
		"x.tif.aux.xml": `<PAMDataset><Metadata domain="OVERVIEWS"><MDI key="OVERVIEW_FILE">/etc/hostname</MDI></Metadata></PAMDataset>`} {
		p := filepath.Join(inner, name)
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		wantFault(t, openFault(filepath.Join(inner, "x.tif")), terrain.ErrInput, name)
		os.Remove(p)
	}
}

// A VRT that changes values is read as it is, in windows.
func TestVRTThatIsNoPlainMosaic(t *testing.T) {
	dir := t.TempDir()
	base := write(t, filepath.Join(dir, "base.tif"), flat(1500), WriteOptions{})
	half := filepath.Join(dir, "half.vrt")
	gdalRun(t, "", "gdal_translate", "-q", "-of", "VRT", "-scale", "0", "1000", "0", "500", base, half)
	got, s := heightIn(t, Options{VertUnit: terrain.Metre}, half)
	if got.ElevationM != 750 || !s.tiles[0].VRT {
		t.Errorf("%+v", got)
	}
}

// A file of 86 kB that claims one block of 3.2 GB: found as a process that ran out of
// time by guided fuzzing.
func TestABlockThatIsTooLargeIsRefusedBeforeItIsRead(t *testing.T) {
	for _, c := range []struct{ rows, bands, says string }{
		{"40000", "1", "blocks of 20000 by 40000 cells and 1 bands, 3052 MB each"},
		{"200", "100", "blocks of 20000 by 200 cells and 100 bands, 1526 MB each"},
	} {
		p := filepath.Join(t.TempDir(), "wide.tif")
		gdalRun(t, "", "gdal_create", "-q", "-of", "GTiff", "-ot", "Float32", "-outsize", "20000", c.rows, "-bands", c.bands, "-a_srs", "EPSG:4326", "-a_ullr", "0", "1", "1", "0",
			"-co", "SPARSE_OK=TRUE", "-co", "COMPRESS=DEFLATE", "-co", "BLOCKYSIZE="+c.rows, p)
		_, err := Open(context.Background(), []string{p}, Options{VertUnit: terrain.Metre})
		var fault *terrain.Fault
		if !errors.As(err, &fault) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s bands: %v", c.bands, err)
		}
	}
}

// Four VRTs within each other are read, five are refused.
func TestVRTsWithinVRTs(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "0.tif"), flat(1500), WriteOptions{})
	name := "0.tif"
	for depth := 1; depth <= 5; depth++ {
		text := `<VRTDataset rasterXSize="20" rasterYSize="20"><SRS>EPSG:26913</SRS><GeoTransform>499900,10,0,4400100,0,-10</GeoTransform><VRTRasterBand dataType="Float32" band="1"><UnitType>m</UnitType>` +
			`<SimpleSource><SourceFilename relativeToVRT="1">` + name + `</SourceFilename><SourceBand>1</SourceBand></SimpleSource></VRTRasterBand></VRTDataset>`
		name = fmt.Sprintf("%d.vrt", depth)
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		if depth == 5 {
			wantFault(t, openFault(p), terrain.ErrInput, "too deep")
		} else if got, _ := heightIn(t, Options{}, p); got.ElevationM != 1500 {
			t.Errorf("%d deep: %+v", depth, got)
		}
	}
}
