package raster

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gradeline/terrain"
)

// tiffField is an entry of a directory: its tag, its kind (TIFF 6.0 section 2: 1 BYTE,
// 2 ASCII, 3 SHORT, 4 LONG; 16 LONG8 of BigTIFF) and its values.
type tiffField struct {
	tag, kind uint16
	values    []uint64
}

// tiffFile writes a little-endian TIFF by hand, as section 2 of TIFF 6.0 lays it out: the
// head, a directory of sorted entries of 12 bytes (20 in a BigTIFF), lists behind it. The
// directory begins at byte 8 (16).
func tiffFile(isBig bool, fields []tiffField) []byte {
	le := binary.LittleEndian
	slices.SortFunc(fields, func(a, b tiffField) int { return int(a.tag) - int(b.tag) })
	at, countB, entryB, inB := 8, 2, 12, 4
	head := []byte{'I', 'I', 42, 0, 8, 0, 0, 0}
	if isBig {
		at, countB, entryB, inB = 16, 8, 20, 8
		head = []byte{'I', 'I', 43, 0, 8, 0, 0, 0, 16, 0, 0, 0, 0, 0, 0, 0}
	}
	after := at + countB + len(fields)*entryB
	dir, lists := make([]byte, countB), []byte{}
	put := func(b []byte, v uint64) { // as many bytes as there is room
		var word [8]byte
		le.PutUint64(word[:], v)
		copy(b, word[:])
	}
	put(dir, uint64(len(fields)))
	for _, f := range fields {
		size := map[uint16]int{1: 1, 2: 1, 3: 2, 4: 4, 16: 8}[f.kind]
		all := make([]byte, size*len(f.values))
		for i, v := range f.values {
			put(all[i*size:(i+1)*size], v)
		}
		e := make([]byte, entryB)
		le.PutUint16(e, f.tag)
		le.PutUint16(e[2:], f.kind)
		put(e[4:entryB-inB], uint64(len(f.values)))
		if len(all) <= inB {
			copy(e[entryB-inB:], all)
		} else {
			put(e[entryB-inB:], uint64(after+len(lists)))
			lists = append(lists, all...)
		}
		dir = append(dir, e...)
	}
	return append(append(append(head, dir...), lists...), make([]byte, 16)...)
}

// layout is a directory of the kind that is decoded here: 300 by 200 floats in tiles of 128
// by 64, so 3 across and 4 down, DEFLATE. Tags by their numbers in TIFF 6.0.
func layout(change map[uint16]uint64) []tiffField {
	value := map[uint16]uint64{256: 300, 257: 200, 258: 32, 259: 8, 277: 1, 284: 1, 317: 3, 322: 128, 323: 64, 339: 3}
	for tag, v := range change {
		value[tag] = v
	}
	var out []tiffField
	for tag, v := range value {
		if v != 1<<62 { // left out
			out = append(out, tiffField{tag, 4, []uint64{v}})
		}
	}
	offsets, sizes := make([]uint64, 12), make([]uint64, 12)
	for i := range offsets {
		offsets[i], sizes[i] = uint64(1000+100*i), uint64(50+i)
	}
	return append(out, tiffField{324, 4, offsets}, tiffField{325, 3, sizes})
}

// A directory laid out by hand after TIFF 6.0 is read as it was written, and each kind that
// is not decoded here is left to GDAL.
func TestDirectoriesLaidOutByHand(t *testing.T) {
	const none = 1 << 62
	for _, isBig := range []bool{false, true} {
		for _, k := range []struct {
			name   string
			change map[uint16]uint64
			here   bool
		}{
			{"as it is", nil, true}, {"no predictor named", map[uint16]uint64{317: none}, true}, {"predictor 1", map[uint16]uint64{317: 1}, true},
			{"samples and planes left out", map[uint16]uint64{277: none, 284: none}, true},
			{"the older number of DEFLATE", map[uint16]uint64{259: 32946}, true},
			{"LZW", map[uint16]uint64{259: 5}, false}, {"ZSTD", map[uint16]uint64{259: 50000}, true}, {"LERC", map[uint16]uint64{259: 34887}, false}, {"DEFLATE's neighbour", map[uint16]uint64{259: 7}, false}, {"no compression named", map[uint16]uint64{259: none}, false},
			{"whole numbers", map[uint16]uint64{258: 16, 339: 2, 317: 2}, true}, {"whole numbers as they are", map[uint16]uint64{258: 16, 339: 2, 317: 1}, true},
			{"whole numbers with the float predictor", map[uint16]uint64{258: 16, 339: 2, 317: 3}, false},
			{"floats as differences", map[uint16]uint64{317: 2}, false}, {"no sign", map[uint16]uint64{258: 16, 339: 1, 317: 2}, false},
			{"halves", map[uint16]uint64{258: 16}, false}, {"32-bit whole numbers", map[uint16]uint64{339: 2}, false}, {"64 bits", map[uint16]uint64{258: 64}, false},
			{"no format named", map[uint16]uint64{339: none}, false}, {"two samples", map[uint16]uint64{277: 2}, false},
			{"no width", map[uint16]uint64{256: 0}, false}, {"no height", map[uint16]uint64{257: 0}, false}, {"no tile", map[uint16]uint64{322: 0}, false}, {"a flat tile", map[uint16]uint64{323: 0}, false},
			{"strips", map[uint16]uint64{322: none, 323: none}, false}, {"twice as wide", map[uint16]uint64{256: 600}, false}, {"13 rows of tiles", map[uint16]uint64{257: 832}, false},
		} {
			got, err := readTIFF(bytes.NewReader(tiffFile(isBig, layout(k.change))))
			if (err == nil) != k.here || !k.here && !errors.Is(err, errOtherTIFF) {
				t.Errorf("%s, big %t: %v", k.name, isBig, err)
			}
			if !k.here || err != nil {
				continue
			}
			if got.cols != 300 || got.rows != 200 || got.w != 128 || got.h != 64 || got.across != 3 || got.down != 4 {
				t.Errorf("%s, big %t: %+v", k.name, isBig, got)
			}
		}
	}
}

// Strips laid out by hand: as wide as the image, and the last one has the rows that are left.
func TestStripsLaidOutByHand(t *testing.T) {
	const none = 1 << 62
	strips := func(change map[uint16]uint64) []tiffField {
		value := map[uint16]uint64{322: none, 323: none, 278: 17}
		for tag, v := range change {
			value[tag] = v
		}
		fields := layout(value)
		for i := range fields {
			switch fields[i].tag {
			case 324:
				fields[i].tag = 273
			case 325:
				fields[i].tag = 279
			}
		}
		return fields
	}
	for _, isBig := range []bool{false, true} {
		got, err := readTIFF(bytes.NewReader(tiffFile(isBig, strips(nil))))
		if err != nil {
			t.Fatal(err)
		}
		if got.w != 300 || got.h != 17 || got.across != 1 || got.down != 12 || got.rowsOf(0) != 17 || got.rowsOf(11) != 200-11*17 {
			t.Errorf("big %t: %+v, rows %d and %d", isBig, got, got.rowsOf(0), got.rowsOf(11))
		}
		for name, change := range map[string]map[uint16]uint64{
			"more strips than are listed": {278: 16}, "fewer": {278: 20}, "no rows in a strip": {278: 0}, "tiles as well": {322: 128, 323: 64}, "rows not named": {278: none},
		} {
			if _, err := readTIFF(bytes.NewReader(tiffFile(isBig, strips(change)))); !errors.Is(err, errOtherTIFF) {
				t.Errorf("%s, big %t: %v", name, isBig, err)
			}
		}
	}
}

// Both lists are read at their places, inline or behind the directory; beyond them nothing is.
func TestListsOfTiles(t *testing.T) {
	for _, isBig := range []bool{false, true} {
		f := bytes.NewReader(tiffFile(isBig, layout(nil)))
		d, err := readTIFF(f)
		if err != nil {
			t.Fatal(err)
		}
		for i := range int64(12) {
			at, err1 := d.offsets.number(f, i)
			size, err2 := d.sizes.number(f, i)
			if err1 != nil || err2 != nil || at != 1000+100*i || size != 50+i {
				t.Errorf("big %t, tile %d: %d bytes at %d, %v, %v", isBig, i, size, at, err1, err2)
			}
		}
		for _, i := range []int64{-1, 12} {
			if _, err := d.offsets.number(f, i); err == nil {
				t.Errorf("tile %d of 12 was read", i)
			}
		}
		// One tile: both lists stand in the directory itself.
		fields := layout(map[uint16]uint64{256: 100, 257: 60})
		for i := range fields {
			if fields[i].tag == 324 || fields[i].tag == 325 {
				fields[i].values = fields[i].values[:1]
			}
		}
		f = bytes.NewReader(tiffFile(isBig, fields))
		if d, err = readTIFF(f); err != nil {
			t.Fatal(err)
		}
		at, err1 := d.offsets.number(f, 0)
		size, err2 := d.sizes.number(f, 0)
		if err1 != nil || err2 != nil || at != 1000 || size != 50 {
			t.Errorf("big %t, one tile: %d bytes at %d, %v, %v", isBig, size, at, err1, err2)
		}
	}
}

// Heads that are of another kind: byte order, version, a place of the directory within the
// head, no entry, more entries than a file has.
func TestHeadsOfAnotherKind(t *testing.T) {
	many := func(n int) []tiffField {
		out := layout(nil)
		for i := range n - len(out) {
			out = append(out, tiffField{uint16(40000 + i), 4, []uint64{1}})
		}
		return out
	}
	edit := func(isBig bool, at int, b ...byte) []byte {
		out := tiffFile(isBig, layout(nil))
		copy(out[at:], b)
		return out
	}
	for _, k := range []struct {
		name string
		text []byte
		here bool
	}{
		{"big-endian", edit(false, 0, 'M', 'M'), false}, {"half of it", edit(false, 1, 'M'), false}, {"version 41", edit(false, 2, 41), false}, {"version 44", edit(false, 2, 44), false},
		{"big, with offsets of 4 bytes", edit(true, 4, 4), false}, {"directory at 7", edit(false, 4, 7), false}, {"directory beyond the file", edit(false, 4, 0, 0, 0, 1), false},
		{"no entry", edit(false, 8, 0, 0), false}, {"no entry, big", edit(true, 16, 0, 0), false},
		{"4,096 entries", tiffFile(false, many(4096)), true}, {"4,097 entries", tiffFile(false, many(4097)), false},
		{"a list of floats", edit(false, 8+2+2, 11), false}, {"nothing", nil, false}, {"truncated", tiffFile(false, layout(nil))[:60], false},
	} {
		if _, err := readTIFF(bytes.NewReader(k.text)); (err == nil) != k.here {
			t.Errorf("%s: %v", k.name, err)
		}
	}
}

// A tile has 4,194,304 cells at most, and its bytes are no more than DEFLATE can need: those
// of its cells, one in 4,096 of them, and 4,096.
func TestSizesOfTiles(t *testing.T) {
	for _, k := range []struct {
		w, h uint64
		here bool
	}{{2048, 2048, true}, {2048, 2049, false}, {4194304, 1, true}, {4194305, 1, false}, {1, 4194305, false}} {
		fields := layout(map[uint16]uint64{256: k.w, 257: k.h, 322: k.w, 323: k.h})
		for i := range fields {
			if fields[i].tag == 324 || fields[i].tag == 325 {
				fields[i].values = fields[i].values[:1]
			}
		}
		if _, err := readTIFF(bytes.NewReader(tiffFile(false, fields))); (err == nil) != k.here {
			t.Errorf("%d by %d: %v", k.w, k.h, err)
		}
	}
	for _, bits := range []int{16, 32} {
		most := int64(128*64*bits/8 + 128*64/1024 + 4096)
		for size, ok := range map[int64]bool{0: true, 1: true, most: true, most + 1: false} {
			word := make([]byte, 16+most+1)
			binary.LittleEndian.PutUint64(word, 16)
			binary.LittleEndian.PutUint64(word[8:], uint64(size))
			d := &tiffTiles{cols: 128, rows: 64, w: 128, h: 64, bits: bits, across: 1, down: 1, offsets: tiffArray{0, 1, 8}, sizes: tiffArray{8, 1, 8}}
			got, err := d.packed(bytes.NewReader(word), 0, 0, nil)
			if (err == nil) != ok || ok && int64(len(got)) != size {
				t.Errorf("%d bits, %d bytes of at most %d: %d read, %v", bits, size, most, len(got), err)
			}
		}
	}
}

// What a VRT's text says is taken from its places: of the first band its no-data value,
// unit, scale and offset, of each source its file, band and windows, and whether its values
// pass unchanged.
func TestWhatAVRTsTextSays(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "x.tif"), []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	source := func(kind, attr, more string) string {
		return "<" + kind + attr + `><SourceFilename relativeToVRT="1">x.tif</SourceFilename>` + more + "</" + kind + ">"
	}
	text := `<VRTDataset rasterXSize="20" rasterYSize="10"><VRTRasterBand dataType="Float32" band="1"><NoDataValue>-9999</NoDataValue><UnitType>ft</UnitType><Scale>2</Scale><Offset>7</Offset>` +
		source("SimpleSource", "", `<SourceBand>3</SourceBand><SrcRect xOff="1" yOff="2" xSize="3" ySize="4"/><DstRect xOff="5" yOff="6" xSize="7" ySize="8"/>`) +
		source("SimpleSource", ` resampling="bilinear"`, "") + source("ComplexSource", "", "<ScaleRatio>2</ScaleRatio>") + source("ComplexSource", "", "<NODATA>-1</NODATA>") +
		`</VRTRasterBand><VRTRasterBand band="2"><NoDataValue>5</NoDataValue><UnitType>m</UnitType>` + source("SimpleSource", "", "") + `</VRTRasterBand></VRTDataset>`
	d, err := parseVRT(filepath.Join(dir, "a.vrt"), strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if d.bands != 2 || d.hasMask || d.noData != "-9999" || d.unit != "ft" || d.scale != "2" || d.shift != "7" || len(d.sources) != 5 {
		t.Fatalf("%+v", d)
	}
	if s := d.sources[0]; s.band != "3" || s.src != [4]float64{1, 2, 3, 4} || s.dst != [4]float64{5, 6, 7, 8} || !s.plain || s.ofBand != 1 || s.path != filepath.Join(dir, "x.tif") {
		t.Errorf("%+v", s)
	}
	for i, want := range []struct {
		plain  bool
		noData string
		ofBand int
	}{{true, "", 1}, {false, "", 1}, {false, "", 1}, {true, "-1", 1}, {true, "", 2}} {
		if s := d.sources[i]; s.plain != want.plain || s.noData != want.noData || s.ofBand != want.ofBand || i > 0 && (s.band != "1" || s.src[0] == s.src[0] && s.src != [4]float64{}) {
			t.Errorf("source %d: %+v", i, s)
		}
	}
	// A mask is no band of its own, and its sources are of none.
	d, err = parseVRT(filepath.Join(dir, "a.vrt"), strings.NewReader(`<VRTDataset><VRTRasterBand><MaskBand><VRTRasterBand><NoDataValue>0</NoDataValue>`+source("SimpleSource", "", "")+`</VRTRasterBand></MaskBand></VRTRasterBand></VRTDataset>`))
	if err != nil || d.bands != 1 || !d.hasMask || d.noData != "" || d.sources[0].ofBand != 0 {
		t.Errorf("%+v, %v", d, err)
	}
	if _, err := parseVRT(filepath.Join(dir, "a.vrt"), strings.NewReader(`<VRTDataset/>`)); err == nil || !strings.Contains(err.Error(), "has no band") {
		t.Errorf("%v", err)
	}
	// 17 elements within each other are read, 18 are not.
	for depth, ok := range map[int]bool{17: true, 18: false} {
		text := "<VRTDataset><VRTRasterBand>" + strings.Repeat("<Metadata>", depth-2) + strings.Repeat("</Metadata>", depth-2) + "</VRTRasterBand></VRTDataset>"
		if _, err := parseVRT(filepath.Join(dir, "a.vrt"), strings.NewReader(text)); (err == nil) != ok {
			t.Errorf("%d deep: %v", depth, err)
		}
	}
}

// A source is a plain file in the VRT's own folder or below, named relative to it or whole.
func TestWhichFilesAVRTMayName(t *testing.T) {
	dir := t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, "in", "below"), 0o755); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"in/x.tif", "in/below/y.tif", "z.tif", "in/..x.tif"} {
		if err := os.WriteFile(filepath.Join(dir, name), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	vrt := filepath.Join(dir, "in", "a.vrt")
	for _, k := range []struct {
		name     string
		relative bool
		ok       bool
	}{
		{"x.tif", true, true}, {"below/y.tif", true, true}, {"..x.tif", true, true}, {filepath.Join(dir, "in", "x.tif"), false, true},
		{"x.tif", false, false}, {"../z.tif", true, false}, {filepath.Join(dir, "z.tif"), false, false}, {"..", true, false}, {"below", true, false}, {"none.tif", true, false},
		{"/vsicurl/http://e.com/x.tif", false, false}, {"<VRTDataset/>", true, false},
	} {
		if _, err := vrtPath(vrt, k.name, k.relative); (err == nil) != k.ok {
			t.Errorf("%s, relative %t: %v", k.name, k.relative, err)
		}
	}
}

// Files beside a raster: masks and overviews that are TIFFs of any of four heads, a
// description of up to 16 MiB that names no other files.
func TestFilesBesideARaster(t *testing.T) {
	for i, k := range []struct {
		ext  string
		text []byte
		ok   bool
	}{
		{".msk", []byte("II*\x00rest"), true}, {".msk", []byte("MM\x00*rest"), true}, {".ovr", []byte("II+\x00"), true}, {".ovr", []byte("MM\x00+"), true}, {".ovr", []byte("II*"), false}, {".msk", []byte("<VRT"), false},
		{".aux.xml", []byte("<PAMDataset/>"), true}, {".aux.xml", []byte("<PAMDataset><Metadata domain=\"OVERVIEWS\"><MDI key=\"Overview_File\">"), false},
		{".aux.xml", make([]byte, 16<<20), true}, {".aux.xml", make([]byte, 16<<20+1), false},
	} {
		path := filepath.Join(t.TempDir(), fmt.Sprintf("r%d.tif", i))
		if err := os.WriteFile(path+k.ext, k.text, 0o600); err != nil {
			t.Fatal(err)
		}
		if err := checkSidecars(path); (err == nil) != k.ok || err != nil && !errors.Is(err, terrain.ErrInput) {
			t.Errorf("%s with %d bytes: %v", k.ext, len(k.text), err)
		}
	}
}

// A tile of one height says nothing of whether two decoders agree; NaN is a height of its
// own here.
func TestWhatAnEvenTileIs(t *testing.T) {
	for i, k := range []struct {
		v    []float32
		even bool
	}{{[]float32{1, 1, 1}, true}, {[]float32{1, 1, 2}, false}, {[]float32{2, 1, 1}, false}, {[]float32{nan32, nan32}, true}, {[]float32{nan32, 1}, false}, {[]float32{7}, true}} {
		if isEven(k.v) != k.even {
			t.Errorf("%d: even %t", i, !k.even)
		}
	}
}

// The lists of tiles stand behind the head, which has 8 bytes.
func TestListsOfTilesStandBehindTheHead(t *testing.T) {
	value := map[int]int64{tagCols: 300, tagRows: 200, tagTileW: 128, tagTileH: 64, tagBits: 32, tagPredictor: 3, tagCompression: 8, tagSampleFormat: 3, tagSamples: 1}
	for _, k := range []struct {
		offsetsAt, sizesAt int64
		ok                 bool
	}{{8, 8, true}, {7, 100, false}, {100, 7, false}, {0, 0, false}} {
		d := &tiffTiles{offsets: tiffArray{k.offsetsAt, 12, 4}, sizes: tiffArray{k.sizesAt, 12, 4}}
		if err := d.checkLayout(value); (err == nil) != k.ok {
			t.Errorf("at %d and %d: %v", k.offsetsAt, k.sizesAt, err)
		}
	}
}
