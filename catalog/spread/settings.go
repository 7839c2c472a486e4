package spread

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/shared"
	"gradeline/catalog/survey"
	"gradeline/catalog/vehicle"
	"gradeline/routes/descent"
	"gradeline/routes/vector"
	"gradeline/terrain"
	"gradeline/terrain/raster"
)

// settings are those of a survey that its results depend on, as a run keeps them. What belongs to
// one machine (workers, memory) is not among them.
type settings struct {
	Classes      []vehicle.Class
	MassKg       float64
	Weather      *catalog.Weather
	Units        catalog.Units
	Descent      descent.Options
	SurfaceModel bool
	AccuracyM    float64

	Terrain       []string
	VertUnit      terrain.VerticalUnit
	Cubic         bool
	AllowRemote   bool
	FlatIsGround  bool
	RemoteTimeout time.Duration

	Roads            []string
	RoadsAllowRemote bool
	Layer            string
	RoadClasses      []string
	Box              *orb.Bound
	MaxVertices      int
	AsDrawn          bool

	DrivePaths          []string
	DrivesAreBarometric bool

	Catalog     string // file; empty for the database of the queue
	Fleet       *[]string
	By          string
	Invented    bool
	Credit      string
	AcceptMoves bool
}

func settingsOf(s *survey.Setup) settings {
	k := settings{Classes: s.Classes, MassKg: s.MassKg, Weather: s.Weather, Units: s.Units, Descent: s.Descent.WithDefaults(), SurfaceModel: s.SurfaceModel, AccuracyM: s.AccuracyM,
		Terrain: s.Terrain, VertUnit: s.Raster.VertUnit, Cubic: s.Raster.Cubic, AllowRemote: s.Raster.AllowRemote, FlatIsGround: s.Raster.FlatIsGround, RemoteTimeout: s.Raster.RemoteTimeout,
		Roads: s.Roads, RoadsAllowRemote: s.Lines.AllowRemote, Layer: s.Lines.Layer, RoadClasses: s.Lines.Roads, Box: s.Lines.Box, MaxVertices: s.Lines.MaxVertices, AsDrawn: s.AsDrawn,
		DrivePaths: s.DrivePaths, DrivesAreBarometric: s.DrivesAreBarometric,
		Catalog: s.Catalog, Fleet: s.Fleet, By: s.By, Invented: s.Invented, Credit: s.Credit, AcceptMoves: s.AcceptMoves}
	if IsAddress(k.Catalog) {
		k.Catalog = "" // its address may hold a password
	}
	return k
}

// setup is the survey of these settings on this machine.
func (k *settings) setup(tool string, m *Machine) survey.Setup {
	return survey.Setup{
		Options: survey.Options{Classes: k.Classes, MassKg: k.MassKg, Weather: k.Weather, Units: k.Units, Descent: k.Descent, SurfaceModel: k.SurfaceModel, AccuracyM: k.AccuracyM,
			Workers: m.Workers, MemoryBytes: m.MemoryBytes},
		Terrain: k.Terrain, Raster: k.raster(m), Roads: k.Roads,
		Lines:   vector.Options{Layer: k.Layer, AllowRemote: k.RoadsAllowRemote && m.AllowRemote, MaxVertices: k.MaxVertices, Roads: k.RoadClasses, Box: k.Box},
		AsDrawn: k.AsDrawn, DrivePaths: k.DrivePaths, DrivesAreBarometric: k.DrivesAreBarometric,
		Catalog: cmp.Or(k.Catalog, m.Catalog), Tool: tool, Fleet: k.Fleet, By: k.By, Invented: k.Invented, Credit: k.Credit, AcceptMoves: k.AcceptMoves}
}

func (k *settings) raster(m *Machine) raster.Options {
	return raster.Options{VertUnit: k.VertUnit, CacheBytes: m.CacheBytes, Workers: m.Workers, Cubic: k.Cubic, AllowRemote: k.AllowRemote && m.AllowRemote,
		FlatIsGround: k.FlatIsGround, RemoteTimeout: k.RemoteTimeout}
}

// isRemote reports whether a path of terrain is an address or one of GDAL's virtual file systems.
func isRemote(path string) bool {
	return strings.Contains(path, "://") || strings.HasPrefix(path, "/vsi")
}

// secrets are parts of an address that give access to it.
var secrets = []string{"@", "signature=", "x-amz-", "token=", "sig=", "accesskey", "password"}

// hasSecret reports whether an address carries a credential, which must not get into the database.
func hasSecret(path string) bool {
	low := strings.ToLower(path)
	return isRemote(path) && slices.ContainsFunc(secrets, func(s string) bool { return strings.Contains(low, s) })
}

// checkSpread refuses what several machines cannot share.
func checkSpread(s *survey.Setup) error {
	switch {
	case len(s.Terrain) == 0:
		return refusal("a survey from recorded drives alone is not spread", "run it on one machine, without --spread")
	case s.Part.Of > 1:
		return refusal("a part of a network is not spread", "leave out --shard: the jobs are parts already")
	case s.DryRun:
		return refusal("a survey that stores nothing is not spread", "leave out --dry-run or --spread")
	case slices.Contains(s.Roads, "-"):
		return refusal("standard input is not spread: the finishing job reads the roads again", "name a file")
	case s.KeepProfile:
		return refusal("the file of grade lines is not written by a spread survey", "leave out --profile, or run without --spread")
	}
	for _, path := range slices.Concat(s.Terrain, s.Roads) {
		if hasSecret(path) {
			return refusal("an address with a credential in it is not put into the database", "give GDAL its credentials on each machine, as in AWS_ACCESS_KEY_ID or GDAL_HTTP_HEADER_FILE, and name the plain address")
		}
	}
	if shared.WithoutPasswords(s.Catalog) != s.Catalog && !IsAddress(s.Catalog) {
		return refusal("the catalogue's name looks like an address with a password in it, and is none", "write postgres://USER@HOST/DATABASE, and the password into a pgpass file")
	}
	return nil
}

func refusal(what, fix string) error {
	return &catalog.Fault{Kind: terrain.ErrInput, What: what, Fix: fix}
}

// IsAddress reports whether a catalogue is named by a database's address.
func IsAddress(catalog string) bool { return shared.IsAddress(catalog) }
