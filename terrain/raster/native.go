package raster

/*
#cgo pkg-config: gdal
#include <gdal.h>
#include <cpl_conv.h>
#include <cpl_error.h>
#include <ogr_srs_api.h>

static void quiet(void) { CPLSetErrorHandler(CPLQuietErrorHandler); }
*/
import "C"

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/airbusgeo/godal"

	"gradeline/terrain"
)

// gdalCacheBytes limits GDAL's own block cache; Options.CacheBytes limits the decoded blocks kept
// here.
const gdalCacheBytes = 64 << 20

// drivers are the raster formats that may be opened. VRT is allowed only for a
// file whose text was checked first (see vrt.go).
var drivers = []string{"GTiff", "SRTMHGT", "AAIGrid", "HFA", "USGSDEM", "EHdr", "ENVI", "DTED"}

var setupOnce = sync.OnceValue(func() error {
	for _, name := range append([]string{"VRT", "COG"}, drivers...) {
		if err := godal.RegisterRaster(godal.DriverName(name)); err != nil {
			return &terrain.Fault{Kind: terrain.ErrRead, What: "GDAL has no " + name + " driver", Err: err,
				Fix: "install the full libgdal package"}
		}
	}
	if err := godal.RegisterRaster(godal.Memory); err != nil {
		return &terrain.Fault{Kind: terrain.ErrRead, What: "GDAL has no MEM driver", Err: err}
	}
	// A library does not print: GDAL's messages outside a collected call are dropped.
	C.quiet()
	C.GDALSetCacheMax64(C.GIntBig(gdalCacheBytes))
	return nil
})

// setup registers the drivers once and refuses an environment that would shift every raster by half
// a cell.
func setup() error {
	if v, ok := os.LookupEnv("GTIFF_POINT_GEO_IGNORE"); ok && v != "" {
		return &terrain.Fault{Kind: terrain.ErrInput, What: "GTIFF_POINT_GEO_IGNORE is set; it shifts rasters by half a cell",
			Fix: "unset GTIFF_POINT_GEO_IGNORE"}
	}
	return setupOnce()
}

// Version returns the versions of the GDAL and PROJ libraries in use.
func Version() (gdal, proj string) {
	v := godal.Version()
	var major, minor, patch C.int
	C.OSRGetPROJVersion(&major, &minor, &patch)
	return fmt.Sprintf("%d.%d.%d", v.Major(), v.Minor(), v.Revision()),
		fmt.Sprintf("%d.%d.%d", int(major), int(minor), int(patch))
}

// SelfTest checks that PROJ finds its data: longitude 3, latitude 0 is on the central
// meridian of UTM zone 31 north, so at easting 500000 m, northing 0 (EPSG Guidance Note
// 7-2, transverse Mercator: false easting at the natural origin; from memory).
func SelfTest() error {
	if err := setup(); err != nil {
		return err
	}
	fail := func(err error) error {
		return &terrain.Fault{Kind: terrain.ErrRead, What: "PROJ cannot transform coordinates; its data (proj.db) was not found", Err: err,
			Fix: "install proj-data or set PROJ_DATA (PROJ_LIB before PROJ 9.1) to the folder that holds proj.db"}
	}
	wgs84, err := godal.NewSpatialRefFromEPSG(4326)
	if err != nil {
		return fail(err)
	}
	defer wgs84.Close()
	utm, err := godal.NewSpatialRefFromEPSG(32631)
	if err != nil {
		return fail(err)
	}
	defer utm.Close()
	trn, err := godal.NewTransform(wgs84, utm)
	if err != nil {
		return fail(err)
	}
	defer trn.Close()
	x, y := []float64{3}, []float64{0}
	if err := trn.TransformEx(x, y, nil, nil); err != nil {
		return fail(err)
	}
	if math.Abs(x[0]-500000) > 1e-3 || math.Abs(y[0]) > 1e-3 {
		return fail(fmt.Errorf("longitude 3, latitude 0 gave %.3f, %.3f in EPSG:32631", x[0], y[0]))
	}
	return nil
}

// openConfig holds GDAL's settings for one open: no scan of the folder (files next to the raster
// are still probed by name), no half-cell shift, no shared handles between threads.
var openConfig = []string{"GDAL_DISABLE_READDIR_ON_OPEN=TRUE", "GTIFF_POINT_GEO_IGNORE=FALSE", "GTIFF_REPORT_COMPD_CS=YES", "VRT_SHARED_SOURCE=0",
	"GDAL_VRT_ENABLE_PYTHON=NO"}

// remoteConfig is the same for an address: no other file is requested from the server, and each
// request has a time limit; GDAL tries twice.
func remoteConfig(timeout time.Duration) []string {
	s := strconv.FormatFloat(timeout.Seconds(), 'f', 3, 64)
	whole := strconv.Itoa(int(math.Ceil(timeout.Seconds())))
	return append(slices.Clone(openConfig[1:]), "GDAL_DISABLE_READDIR_ON_OPEN=EMPTY_DIR", "GDAL_HTTP_MAX_RETRY=1", "GDAL_HTTP_RETRY_DELAY="+strconv.FormatFloat(min(1, timeout.Seconds()), 'f', 3, 64),
		"GDAL_HTTP_TIMEOUT="+s, "GDAL_HTTP_CONNECTTIMEOUT="+s, "GDAL_HTTP_LOW_SPEED_TIME="+whole, "GDAL_HTTP_LOW_SPEED_LIMIT=1")
}

// isRemote reports whether path is an address or a GDAL virtual path.
func isRemote(path string) bool {
	return strings.HasPrefix(path, "/vsi") || strings.Contains(path, "://")
}
