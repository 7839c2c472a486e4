package raster

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"gradeline/terrain"
)

const (
	maxVRTBytes = 64 << 20
	maxVRTDepth = 4 // VRTs within VRTs
)

// A VRT is XML that names other files. Only these elements and attributes are passed to GDAL:
// mosaics, masks and plain descriptions; no pixel functions, raw bands, warps, options, or anything
// new.
var (
	vrtElements = nameSet(`VRTDataset SRS GeoTransform Metadata MDI VRTRasterBand MaskBand NoDataValue HideNoDataValue ColorInterp
		Description UnitType Offset Scale SimpleSource ComplexSource SourceFilename SourceBand SourceProperties SrcRect DstRect
		NODATA ScaleOffset ScaleRatio UseMaskBand OverviewList BlockXSize BlockYSize Histograms HistItem HistMin HistMax BucketCount
		IncludeOutOfRange Approximate HistCounts`)
	vrtAttributes = nameSet(`rasterXSize rasterYSize dataAxisToSRSAxisMapping coordinateEpoch domain key format dataType band
		relativeToVRT shared RasterXSize RasterYSize DataType BlockXSize BlockYSize blockXSize blockYSize xOff yOff xSize ySize resampling`)
)

func nameSet(s string) map[string]bool {
	m := map[string]bool{}
	for _, n := range strings.Fields(s) {
		m[n] = true
	}
	return m
}

// vrtSource is one source of a VRT's bands.
type vrtSource struct {
	path     string // as GDAL will open it
	band     string // of the source
	ofBand   int    // of the VRT, 0 for a mask
	plain    bool   // values are used unchanged
	noData   string
	src, dst [4]float64 // xOff yOff xSize ySize
}

// vrtDoc holds the parts of a VRT that are used.
type vrtDoc struct {
	bands                      int
	hasMask                    bool
	noData, unit, scale, shift string // of band 1
	sources                    []vrtSource
}

// startsAsVRT checks the first KiB of a file.
func startsAsVRT(path string) (bool, error) {
	f, err := os.Open(path)
	if err != nil {
		return false, unreadable(path, pathErr(err), "check the path and its permissions")
	}
	defer f.Close()
	head := make([]byte, 1024)
	n, err := io.ReadFull(f, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return false, unreadable(path, pathErr(err), "")
	}
	return bytes.Contains(head[:n], []byte("<VRTDataset")), nil
}

func vrtRefused(path, what string) error {
	return &terrain.Fault{Kind: terrain.ErrInput, File: path, What: what,
		Fix: "use a VRT of plain files in its own folder (gdalbuildvrt), or make a GeoTIFF of it (gdal_translate)"}
}

// vrtParser is the state of reading a VRT's text.
type vrtParser struct {
	path  string
	doc   *vrtDoc
	stack []string // names of the open elements
	text  strings.Builder
	attr  map[string]string // of the last element opened
	cur   vrtSource
}

// parseVRT reads a VRT's text and refuses elements and attributes that are not listed above.
func parseVRT(path string, r io.Reader) (*vrtDoc, error) {
	p := &vrtParser{path: path, doc: &vrtDoc{}}
	dec := xml.NewDecoder(io.LimitReader(r, maxVRTBytes))
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, vrtRefused(path, "is not a well-formed VRT: "+err.Error())
		}
		switch e := tok.(type) {
		case xml.Directive:
			return nil, vrtRefused(path, "holds an XML directive")
		case xml.StartElement:
			err = p.openElement(e)
		case xml.CharData:
			p.text.Write(e)
		case xml.EndElement:
			err = p.closeElement()
		}
		if err != nil {
			return nil, err
		}
	}
	if p.doc.bands == 0 {
		return nil, vrtRefused(path, "has no band")
	}
	return p.doc, nil
}

// openElement checks an element and its attributes against the lists.
func (p *vrtParser) openElement(e xml.StartElement) error {
	name := e.Name.Local
	if !vrtElements[name] || e.Name.Space != "" || len(p.stack) > 16 {
		return vrtRefused(p.path, fmt.Sprintf("holds <%s>, which is not read", name))
	}
	p.attr = map[string]string{}
	for _, a := range e.Attr {
		if !vrtAttributes[a.Name.Local] || a.Name.Space != "" {
			return vrtRefused(p.path, fmt.Sprintf("holds <%s %s=…>, which is not read", name, a.Name.Local))
		}
		p.attr[a.Name.Local] = a.Value
	}
	isMask := slices.Contains(p.stack, "MaskBand")
	switch name {
	case "VRTRasterBand":
		if !isMask {
			p.doc.bands++
		}
	case "MaskBand", "UseMaskBand":
		p.doc.hasMask = true
	case "SimpleSource", "ComplexSource":
		p.cur = vrtSource{ofBand: p.doc.bands, plain: p.attr["resampling"] == "", band: "1"}
		if isMask {
			p.cur.ofBand = 0
		}
	}
	p.stack = append(p.stack, name)
	p.text.Reset()
	return nil
}

// closeElement stores the content of an element.
func (p *vrtParser) closeElement() error {
	name, parent := p.stack[len(p.stack)-1], ""
	if len(p.stack) > 1 {
		parent = p.stack[len(p.stack)-2]
	}
	text := strings.TrimSpace(p.text.String())
	if err := p.noteOfSource(name, text); err != nil {
		return err
	}
	if parent == "VRTRasterBand" && p.doc.bands == 1 && !slices.Contains(p.stack, "MaskBand") {
		p.doc.noteOfBand(name, text)
	}
	p.stack = p.stack[:len(p.stack)-1]
	p.text.Reset()
	return nil
}

// noteOfSource stores an element of a band's source.
func (p *vrtParser) noteOfSource(name, text string) (err error) {
	switch name {
	case "SourceFilename":
		p.cur.path, err = vrtPath(p.path, text, p.attr["relativeToVRT"] == "1")
	case "SourceBand":
		p.cur.band = text
	case "SrcRect":
		p.cur.src = vrtRect(p.attr)
	case "DstRect":
		p.cur.dst = vrtRect(p.attr)
	case "NODATA":
		p.cur.noData = text
	case "ScaleOffset", "ScaleRatio":
		p.cur.plain = false
	case "SimpleSource", "ComplexSource":
		if p.cur.path == "" {
			return vrtRefused(p.path, "has a source without a file name")
		}
		p.doc.sources = append(p.doc.sources, p.cur)
	}
	return err
}

// noteOfBand stores an element of the first band.
func (d *vrtDoc) noteOfBand(name, text string) {
	switch name {
	case "NoDataValue":
		d.noData = text
	case "UnitType":
		d.unit = text
	case "Scale":
		d.scale = text
	case "Offset":
		d.shift = text
	}
}

// vrtRect reads a window's attributes, NaN for one that is not a number.
func vrtRect(attr map[string]string) (r [4]float64) {
	for i, k := range []string{"xOff", "yOff", "xSize", "ySize"} {
		v, err := strconv.ParseFloat(attr[k], 64)
		if err != nil {
			v = math.NaN()
		}
		r[i] = v
	}
	return r
}

// vrtPath resolves a source's file name; it must be a plain file in the VRT's
// folder or below.
func vrtPath(vrt, name string, relative bool) (string, error) {
	dir := filepath.Dir(vrt)
	p := name
	if relative || !filepath.IsAbs(name) {
		p = filepath.Join(dir, name)
	}
	absDir, err1 := filepath.Abs(dir)
	abs, err2 := filepath.Abs(p)
	if err1 != nil || err2 != nil {
		return "", vrtRefused(vrt, fmt.Sprintf("names the source %q", name))
	}
	rel, err := filepath.Rel(absDir, abs)
	if err != nil || rel == ".." || strings.HasPrefix(rel, ".."+string(filepath.Separator)) || isRemote(name) || isRemote(abs) ||
		strings.Contains(name, "<") {
		return "", vrtRefused(vrt, fmt.Sprintf("names the source %q, which is not in its own folder", name))
	}
	if !relative && !filepath.IsAbs(name) {
		return "", vrtRefused(vrt, fmt.Sprintf("names the source %q relative to the working folder", name))
	}
	if st, err := os.Stat(p); err != nil || !st.Mode().IsRegular() {
		return "", vrtRefused(vrt, fmt.Sprintf("names the source %q, which is not a file", name))
	}
	return p, nil
}

// maxSidecarBytes is the longest description next to a raster that is read; a longer one is refused.
const maxSidecarBytes = 16 << 20

// checkSidecars refuses files next to a raster that would make GDAL open further files or
// addresses: a mask or overview that is not a TIFF, a description that names overview files.
func checkSidecars(path string) error {
	refuse := func(name, what string) error {
		return &terrain.Fault{Kind: terrain.ErrInput, File: name, What: what, Fix: "remove it"}
	}
	for _, ext := range []string{".msk", ".ovr"} {
		head, err := readHead(path+ext, 4)
		if os.IsNotExist(err) {
			continue
		}
		tiff := bytes.Equal(head, []byte("II*\x00")) || bytes.Equal(head, []byte("MM\x00*")) ||
			bytes.Equal(head, []byte("II+\x00")) || bytes.Equal(head, []byte("MM\x00+"))
		if err != nil || !tiff {
			return refuse(path+ext, "is a mask or overview next to a raster but not a TIFF")
		}
	}
	text, err := readHead(path+".aux.xml", maxSidecarBytes+1)
	switch {
	case os.IsNotExist(err):
		return nil
	case err != nil || len(text) > maxSidecarBytes:
		return refuse(path+".aux.xml", fmt.Sprintf("cannot be read, or is longer than %d bytes", maxSidecarBytes))
	case bytes.Contains(bytes.ToUpper(text), []byte("OVERVIEW_FILE")):
		return refuse(path+".aux.xml", "names other files as overviews")
	}
	return nil
}

// readHead reads up to n bytes.
func readHead(path string, n int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, n))
}
