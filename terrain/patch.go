package terrain

import "context"

// PatchKind classifies level ground of exactly one height.
type PatchKind uint8

// The kinds of patch.
const (
	// PatchPlain is level ground: the raster stores heights in steps, and the ground around the
	// patch is one step higher or lower, as on any plain.
	PatchPlain PatchKind = iota
	// PatchBasin has a natural, irregular border: still water in a raster that flattens it, or a
	// hole that was filled with one height.
	PatchBasin
	// PatchFiller is a fill value, not ground: it has no border, or a border of straight lines.
	PatchFiller
)

func (k PatchKind) String() string {
	switch k {
	case PatchPlain:
		return "plain"
	case PatchBasin:
		return "basin"
	}
	return "filler"
}

// Patch is the connected ground of exactly one height around a point, as far as it
// was followed.
type Patch struct {
	Kind       PatchKind
	Filler     Filler
	ElevationM float64
	StepM      float64 // step of the heights around it; 0 where they are continuous
	Cells      int
	IsCut      bool // it is larger than the searched area
}

// Filler is a height that a raster stores where it has no data. It stands for all cells that hold
// exactly this number, in the mosaic to which the source belongs.
type Filler struct {
	Source int16   // of Surface.Sources
	NoData float32 // in the raster's own unit
}

// PatchSurface is a Surface that can follow ground of exactly one height, and can be sampled
// without it.
type PatchSurface interface {
	Surface
	// Patch follows the ground of one height around a point of a source.
	Patch(ctx context.Context, p Point, source int16) (Patch, error)
	// SampleWithout is Sample with the cells of fillers treated as voids.
	SampleWithout(ctx context.Context, points []Point, out []Sample, fillers []Filler) error
	// HeightStepM is the step in which a source stores its heights, metres; 0 where
	// it can store any.
	HeightStepM(source int16) float64
	// IsFlatGround reports whether ground of one height is known to be real.
	IsFlatGround() bool
}
