package vector

import "C" // columnnames.c

import (
	"github.com/airbusgeo/godal"

	"gradeline/routes"
	"gradeline/terrain"
)

// checkIsTable refuses a layer of a GeoPackage or other SQLite file that is not a plain table:
// reading a view or a virtual table runs code from the file, and with GDAL 3.6.2 reading a view
// crashed the program.
func checkIsTable(ds *godal.Dataset, layer, path string, handler godal.ExecuteSQLOption) error {
	if ds.Driver().ShortName() != "GPKG" {
		return nil
	}
	fault := func(what string, err error) error {
		return &routes.Fault{Kind: terrain.ErrInput, File: path, Feature: "layer " + cleanText(layer), What: what, Err: err,
			Fix: "export it to a plain table of a new file, or ask who sent it"}
	}
	tables, err := ds.ExecuteSQL("SELECT name FROM sqlite_master WHERE type = 'table' AND sql NOT LIKE 'create virtual%'", handler)
	if err != nil {
		return fault("its tables cannot be listed", err)
	}
	defer tables.Close()
	for {
		f := tables.NextFeature()
		if f == nil {
			return fault("it is not a plain table but a view or a virtual table, which would run code from the file", nil)
		}
		name := f.Fields()["name"].String()
		f.Close()
		if name == layer {
			return nil
		}
	}
}
