package raster

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"sync/atomic"

	"github.com/airbusgeo/godal"

	"gradeline/terrain"
)

// Kinds of validity that a band has in addition to its values.
const (
	maskNone  = iota
	maskBand  // GDAL's mask of the band (a mask or an alpha band): 0 is a void
	maskAlpha // the last band is alpha, of a type that GDAL doesn't take as a mask
)

// header is the description of a raster file. The index stores it, so it holds nothing that depends
// on Options.
type header struct {
	Cols, Rows     int
	Geo            [6]float64 // corner of the first cell and its two steps, as in GDAL
	CRS            crsText
	Unit           terrain.VerticalUnit // of the band, or of the format
	UnitOdd        string
	NoData         []float64
	Scale, Offset  float64
	Mask           int
	IsWhole        bool // stores whole numbers
	Is8Bit         bool
	BlockW, BlockH int
	Driver         string
	Bounds         [4]float64 // west, south, east, north in degrees
	CellM          float64    // ground size at the middle
	Bytes          int64
	Fingerprint    string
	Warnings       []string
	VRT            bool // read as a VRT, not as its sources
}

// vsimemSeq makes names in GDAL's memory file system unique.
var vsimemSeq atomic.Int64

func vsimemName(ext string) string {
	return fmt.Sprintf("/vsimem/gradeline-%d-%d%s", os.Getpid(), vsimemSeq.Add(1), ext)
}

// openDataset opens one file with the drivers that are allowed for it; GDAL's warnings go to warn.
func openDataset(path string, allowVRT bool, config []string, warn func(string)) (*godal.Dataset, error) {
	allowed := drivers
	if allowVRT {
		allowed = []string{"VRT"}
	}
	return godal.Open(path, godal.RasterOnly(), godal.SiblingFiles(), godal.Drivers(allowed...),
		godal.ConfigOption(config...), godal.ErrLogger(collect(warn)))
}

// collect turns GDAL's messages into warnings and errors.
func collect(warn func(string)) godal.ErrorHandler {
	return func(ec godal.ErrorCategory, code int, msg string) error {
		switch {
		case ec == godal.CE_Warning:
			warn(strings.Join(strings.Fields(msg), " "))
		case ec > godal.CE_Warning:
			return fmt.Errorf("GDAL: %s", strings.Join(strings.Fields(msg), " "))
		}
		return nil
	}
}

func unreadable(path string, err error, fix string) error {
	if fix == "" {
		fix = "download the file again, or leave it out"
	}
	return &terrain.Fault{Kind: terrain.ErrRead, File: path, What: "cannot be read as a raster of heights", Err: err, Fix: fix}
}

// maxBlockB limits the memory for one block of a file: a file of a few bytes can claim blocks of
// any size.
const maxBlockB = 1 << 30

// checkBlockSize refuses blocks that take more than maxBlockB to decode: bands that are
// interleaved by pixel are decoded together.
func checkBlockSize(path string, ds *godal.Dataset, bs godal.BandStructure) error {
	together := 1
	if ds.Metadata("INTERLEAVE", godal.Domain("IMAGE_STRUCTURE")) == "PIXEL" {
		together = len(ds.Bands())
	}
	bytes := float64(bs.BlockSizeX) * float64(bs.BlockSizeY) * float64(bs.DataType.Size()) * float64(together)
	if bytes <= maxBlockB {
		return nil
	}
	return &terrain.Fault{Kind: terrain.ErrRead, File: path, What: fmt.Sprintf("keeps its values in blocks of %d by %d cells and %d bands, %.0f MB each", bs.BlockSizeX, bs.BlockSizeY, together, bytes/(1<<20)),
		Fix: "cut the band of heights into tiles, on a machine with the memory for it: gdal_translate -b 1 -co TILED=YES"}
}

// readHeader opens a file once and reads what sampling needs.
func readHeader(path string, isVRT bool, config []string) (*header, error) {
	h := &header{VRT: isVRT}
	warn := func(m string) { h.Warnings = append(h.Warnings, m) }
	if !isRemote(path) {
		if err := h.checkFile(path); err != nil {
			return nil, err
		}
	}
	ds, err := openDataset(path, isVRT, config, warn)
	if err != nil {
		return nil, unreadable(path, err, "")
	}
	defer ds.Close()
	h.Driver = ds.Driver().ShortName()
	if err := h.readBand(path, ds, warn); err != nil {
		return nil, err
	}
	if h.Geo, err = ds.GeoTransform(godal.ErrLogger(collect(warn))); err != nil || h.Geo[1]*h.Geo[5]-h.Geo[2]*h.Geo[4] == 0 {
		return nil, &terrain.Fault{Kind: terrain.ErrRead, File: path, What: "has no position on the ground (no geotransform)", Err: err,
			Fix: "state its corners: gdal_translate -a_ullr WEST NORTH EAST SOUTH"}
	}
	if h.CRS, err = crsTextFromWKT(ds.Projection()); err != nil {
		return nil, unreadable(path, err, "state its CRS: gdal_translate -a_srs EPSG:CODE")
	}
	if err := h.readUnit(ds); err != nil {
		return nil, unreadable(path, err, "")
	}
	if err := h.lastBlockIsThere(ds.Bands()[0]); err != nil {
		return nil, unreadable(path, err, "")
	}
	if h.CRS.Horizontal != "" {
		if err := h.place(); err != nil {
			return nil, unreadable(path, err, "check the raster's corners and CRS: gdalinfo")
		}
	}
	if isRemote(path) {
		h.Bytes, h.Fingerprint, err = virtualFingerprint(path, config)
	} else {
		h.Fingerprint, err = fingerprint(path, h.Bytes)
	}
	if err != nil {
		return nil, unreadable(path, err, "")
	}
	return h, nil
}

// checkFile reads a local file's size and refuses a file that is empty or refers to others.
func (h *header) checkFile(path string) error {
	st, err := os.Stat(path)
	if err != nil {
		return &terrain.Fault{Kind: terrain.ErrRead, File: path, What: "no such file", Err: err, Fix: "check the path"}
	}
	if h.Bytes = st.Size(); h.Bytes == 0 {
		return &terrain.Fault{Kind: terrain.ErrRead, File: path, What: "the file is empty", Fix: "download the file again"}
	}
	return checkSidecars(path)
}

// readBand reads the properties of the band of heights.
func (h *header) readBand(path string, ds *godal.Dataset, warn func(string)) error {
	st := ds.Structure()
	bands := ds.Bands()
	if len(bands) == 0 || st.SizeX < 1 || st.SizeY < 1 {
		return unreadable(path, fmt.Errorf("no band"), "")
	}
	h.Cols, h.Rows = st.SizeX, st.SizeY
	b := bands[0]
	bs := b.Structure()
	h.BlockW, h.BlockH = bs.BlockSizeX, bs.BlockSizeY
	if err := checkBlockSize(path, ds, bs); err != nil {
		return err
	}
	if err := h.checkValues(path, b); err != nil {
		return err
	}
	hasAlpha := bands[len(bands)-1].ColorInterp() == godal.CIAlpha
	if len(bands) > 1 && !(len(bands) == 2 && hasAlpha) {
		warn(fmt.Sprintf("has %d bands; heights are read from band 1", len(bands)))
	}
	h.Scale, h.Offset = bs.Scale, bs.Offset
	if h.Scale == 0 || math.IsNaN(h.Scale+h.Offset) || math.IsInf(h.Scale+h.Offset, 0) {
		return unreadable(path, fmt.Errorf("band scale %g, offset %g", h.Scale, h.Offset), "correct the band's scale and offset")
	}
	h.readVoids(b, hasAlpha && len(bands) > 1)
	return nil
}

// checkValues reads the type of a band's values and refuses types that are not heights.
func (h *header) checkValues(path string, b godal.Band) error {
	kind := b.Structure().DataType
	switch kind {
	case godal.Byte, godal.Int8, godal.UInt16, godal.Int16, godal.UInt32, godal.Int32, godal.Float32, godal.Float64:
	default:
		return unreadable(path, fmt.Errorf("values of type %s", kind), "use a raster of real numbers")
	}
	h.IsWhole = kind != godal.Float32 && kind != godal.Float64
	h.Is8Bit = kind == godal.Byte || kind == godal.Int8
	switch b.ColorInterp() {
	case godal.CIRed, godal.CIPalette:
		return unreadable(path, fmt.Errorf("it is a picture"), "use a raster of heights")
	}
	return nil
}

// readVoids reads how the band marks voids.
func (h *header) readVoids(b godal.Band, hasAlpha bool) {
	if nd, ok := b.NoData(); ok {
		h.NoData = append(h.NoData, nd)
	}
	if h.Driver == "SRTMHGT" {
		h.NoData = append(h.NoData, -32768)
	}
	// Flag values: GDAL RFC 15. 1 all valid, 2 per dataset, 4 alpha, 8 no-data.
	if flags := b.MaskFlags(); flags&(1|8) == 0 {
		h.Mask = maskBand
	} else if hasAlpha {
		h.Mask = maskAlpha
	}
}

// readUnit finds the band's unit. godal does not return it; a VRT description of the dataset holds
// it.
func (h *header) readUnit(ds *godal.Dataset) error {
	if h.Driver == "SRTMHGT" {
		h.Unit = terrain.Metre // SRTM's format defines metres (USGS, SRTM Topography documentation, 2.1; from memory)
		return nil
	}
	name := vsimemName(".vrt")
	vrt, err := ds.Translate(name, []string{"-of", "VRT", "-b", "1"}, godal.ErrLogger(collect(func(string) {})))
	if err != nil {
		return err
	}
	defer godal.VSIUnlink(name)
	if err := vrt.Close(); err != nil {
		return err
	}
	f, err := godal.VSIOpen(name)
	if err != nil {
		return err
	}
	defer f.Close()
	text, err := io.ReadAll(f)
	if err != nil {
		return err
	}
	var doc struct {
		Unit []string `xml:"VRTRasterBand>UnitType"`
	}
	if err := xml.Unmarshal(text, &doc); err != nil {
		return err
	}
	if len(doc.Unit) > 0 && strings.TrimSpace(doc.Unit[0]) != "" {
		if h.Unit = unitFromBandText(doc.Unit[0]); h.Unit == terrain.UnitUnknown {
			h.UnitOdd = strings.TrimSpace(doc.Unit[0])
		}
	}
	return nil
}

// lastBlockIsThere finds a truncated GeoTIFF: its last block would end beyond the file.
func (h *header) lastBlockIsThere(b godal.Band) error {
	if h.Driver != "GTiff" || h.Bytes == 0 {
		return nil
	}
	at := fmt.Sprintf("_%d_%d", (h.Cols-1)/h.BlockW, (h.Rows-1)/h.BlockH)
	off, err1 := strconv.ParseInt(b.Metadata("BLOCK_OFFSET"+at, godal.Domain("TIFF")), 10, 64)
	size, err2 := strconv.ParseInt(b.Metadata("BLOCK_SIZE"+at, godal.Domain("TIFF")), 10, 64)
	if err1 == nil && err2 == nil && off+size > h.Bytes {
		return fmt.Errorf("the file is truncated: it has %d bytes and its last block ends at %d", h.Bytes, off+size)
	}
	return nil
}

// fingerprint is the SHA-256 of the complete content up to 1 MiB. For a larger file it is the
// SHA-256 of its size (8 bytes, big endian), its first and last 128 KiB and eight pieces of 16 KiB
// evenly between, so that a folder of thousands of tiles opens in seconds. It distinguishes
// versions of a file; it does not detect a deliberate change.
func fingerprint(path string, size int64) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	return fingerprintOf(f, size, 1<<20, 128<<10, 16<<10, 8)
}

// fingerprintOf is a fingerprint of all bytes of a file up to whole bytes, else of its size, end bytes
// from both of its ends and some pieces between.
func fingerprintOf(f io.ReaderAt, size, whole, end, piece, pieces int64) (string, error) {
	sum := sha256.New()
	read := func(off, n int64) error {
		got, err := io.Copy(sum, io.NewSectionReader(f, off, n))
		if err == nil && got < n {
			err = io.ErrUnexpectedEOF
		}
		return err
	}
	if size <= whole {
		if err := read(0, size); err != nil {
			return "", err
		}
		return hex.EncodeToString(sum.Sum(nil)), nil
	}
	sum.Write(binary.BigEndian.AppendUint64(nil, uint64(size)))
	if err := read(0, end); err != nil {
		return "", err
	}
	for i := int64(1); i <= pieces; i++ {
		if err := read(end+(size-2*end-piece)*i/(pieces+1), piece); err != nil {
			return "", err
		}
	}
	if err := read(size-end, end); err != nil {
		return "", err
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}
