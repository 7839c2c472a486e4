package holding

import (
	"math"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// Adviser gives advice on one hill for many classes. The demand of the hill on any truck is worked
// out once. It is not safe for concurrent use.
type Adviser struct {
	hill  Hill
	slope *slope
	err   error // of the hill itself

	scratch []stretch
}

// NewAdviser returns an Adviser for a hill.
func NewAdviser(h Hill) *Adviser {
	a := &Adviser{hill: h}
	a.err = checkHill(&a.hill)
	return a
}

// slopeFor is the hill under one altitude and in one air; the last one is cached.
func (a *Adviser) slopeFor(o *Options) (*slope, error) {
	if a.slope != nil && a.slope.isFor(o) {
		return a.slope, nil
	}
	s, err := newSlope(&a.hill, o)
	if err != nil {
		return nil, err
	}
	a.slope = s
	return s, nil
}

// slope is the demand of a hill on any truck: its spans, with the density of the air over them.
type slope struct {
	hill      *Hill
	altitudeM float64
	coldC     *float64    // of the air; nil for the standard atmosphere
	hotC      *float64    // likewise
	air       vehicle.Air // of the highest place, for coolers
	windows   [][]span    // the spans of each window with their bounds
	parts     []span      // every partM span as recovered
	pitches   []span      // every pitchM span as recovered
	sudden    []span      // the same with pitchTimes the bound
	lead      [][]span    // of windows and, last, of parts, the ones that can be hardest
	pitch     []span      // of pitches, likewise
	jolt      []span      // of sudden, likewise
	run       []piece     // the hill in pieces for a run down it; made when needed
	fine      []piece     // the same by the hill's own intervals
	heat      []piece     // the hill in pieces for the brakes' heat; made when needed
	grounds   []ground
	slants    [2]slants // of lead, pitch and jolt, as the hill is and steeper; made when needed
	isFull    bool      // no span is left out for being easier than another; for tests
}

// piece is a span with its angle.
type piece struct {
	span
	slant
}

// piecesOf fills in the air and the angle of each span.
func piecesOf(spans []span, hotC *float64) []piece {
	withAir(spans, hotC)
	out := make([]piece, len(spans))
	for i := range spans {
		out[i] = piece{spans[i], slantOf(&spans[i], 0)}
	}
	return out
}

// force is the demand of the piece at the wheels of a truck, on the hill as it is or steeper.
func (x *piece) force(extraPct float64, t *vehicle.Truck) stretch {
	if extraPct != 0 {
		return forceOf(x.span, extraPct, t)
	}
	return forceAt(&x.span, x.slant, t)
}

// ground is a piece of the hill with its hardest spans and tightest curve.
type ground struct {
	fromM, toM  float64
	long        []piece // one for each window, and the parts'
	short, jolt piece
	radiusM     float64 // +Inf without a curve
}

func newSlope(h *Hill, o *Options) (*slope, error) {
	s := &slope{hill: h, altitudeM: o.altitudeM()}
	if coldC, hotC := o.airTempsC(); coldC != nil {
		cold, hot := *coldC, *hotC
		s.coldC, s.hotC = &cold, &hot
	}
	s.air = vehicle.AirBetween(s.highestM(), s.coldC, s.hotC)
	s.parts = spansOf(h, partM, s.altitudeM, nil)
	if err := checkSteepest(h, s.parts); err != nil {
		return nil, err
	}
	s.windows = windowSpans(h, s.altitudeM)
	s.sudden = spansOf(h, pitchM, s.altitudeM, func(a, b int, midM float64) float64 { return h.pitchTimes(midM) * h.localErrPct(a, b) })
	s.pitches = slices.Clone(s.sudden)
	for i := range s.pitches {
		s.pitches[i].errPct = 0
	}
	for _, w := range s.windows {
		s.lead = append(s.lead, hardest(w, true))
	}
	s.lead = append(s.lead, hardest(s.parts, false))
	s.pitch = hardest(s.pitches, false)
	s.jolt = hardest(s.sudden, true)
	return s, nil
}

func (s *slope) isFor(o *Options) bool {
	coldC, hotC := o.airTempsC()
	if s.altitudeM != o.altitudeM() || (s.coldC == nil) != (coldC == nil) {
		return false
	}
	return s.coldC == nil || *s.coldC == *coldC && *s.hotC == *hotC
}

// highestM is the height of the hill's highest place.
func (s *slope) highestM() float64 {
	if s.hill.ElevationM == nil {
		return s.altitudeM
	}
	return slices.Max(s.hill.ElevationM)
}

// runPieces cuts the hill into pieces of some 25 m, each with its bound over WindowM.
func (s *slope) runPieces() (pieces []piece, lengthM float64) {
	const stepM = 25.0
	if s.run == nil {
		spans := spansEven(s.hill, min(2000, max(1, int(math.Ceil(s.hill.LengthM()/stepM)))), s.altitudeM)
		boundLocally(s.hill, spans)
		s.run = piecesOf(spans, s.hotC)
	}
	return s.run, s.hill.LengthM() / float64(len(s.run))
}

// recoveryPieces begin where the hill's own intervals do, so that a short pitch counts in full from
// its first metre; a piece is at most 25 m long.
func (s *slope) recoveryPieces() []piece {
	const longestM, most = 25.0, 5000
	h := s.hill
	if len(h.DowngradePct) > most {
		pieces, _ := s.runPieces()
		return pieces
	}
	if s.fine != nil {
		return s.fine
	}
	spans := make([]span, 0, len(h.DowngradePct))
	for k, pct := range h.DowngradePct {
		from, lengthM := h.StationM[k], h.StationM[k+1]-h.StationM[k]
		n := max(1, math.Ceil(lengthM/longestM))
		for i := range int(n) {
			x := span{pct: pct, errPct: h.localErrPct(k, k), beginM: from + lengthM*float64(i)/n, highM: s.altitudeM}
			if h.ElevationM != nil {
				down := (h.ElevationM[k+1] - h.ElevationM[k]) / n
				x.highM = h.ElevationM[k] + max(down*float64(i), down*float64(i+1))
			}
			spans = append(spans, x)
		}
	}
	s.fine = piecesOf(spans, s.hotC)
	return s.fine
}

// heatPieces cuts the hill into pieces of some 100 m, each with the bound of its mean.
func (s *slope) heatPieces() (pieces []piece, lengthM float64) {
	if s.heat == nil {
		n := min(mostPieces, max(1, int(math.Ceil(s.hill.LengthM()/pieceM))))
		s.heat = piecesOf(spansEven(s.hill, n, s.altitudeM), s.hotC)
	}
	return s.heat, s.hill.LengthM() / float64(len(s.heat))
}

// blocks cuts the hill and gathers, for each block, the steepest and highest of all spans
// that touch it.
func (s *slope) blocks() []ground {
	if s.grounds != nil {
		return s.grounds
	}
	length := s.hill.LengthM()
	s.grounds = make([]ground, min(mostBlocks, max(1, int(math.Round(length/blockM)))))
	n := float64(len(s.grounds))
	for i := range s.grounds {
		from, to := length*float64(i)/n, length*float64(i+1)/n
		s.grounds[i] = ground{
			fromM: from, toM: to,
			short:   s.hardestOn(s.pitches, from-pitchM, to),
			jolt:    s.hardestOn(s.sudden, from-pitchM, to),
			radiusM: s.hill.tightestOn(from, to),
		}
		for _, w := range s.windows {
			lengthM := WindowM
			if w[0].perM > 0 {
				lengthM = 1 / w[0].perM
			}
			s.grounds[i].long = append(s.grounds[i].long, s.hardestOn(w, from-lengthM, to))
		}
		s.grounds[i].long = append(s.grounds[i].long, s.hardestOn(s.parts, from-partM, to))
	}
	return s.grounds
}

// hardestOn is one span as steep as the steepest and as high as the highest of the
// spans that begin between two places.
func (s *slope) hardestOn(spans []span, fromM, toM float64) piece {
	worst := span{pct: math.Inf(-1), highM: math.Inf(-1)}
	for _, x := range spans[firstFrom(spans, fromM):] {
		if x.beginM >= toM {
			break
		}
		worst.pct, worst.highM = max(worst.pct, x.pct+x.errPct), max(worst.highM, x.highM)
	}
	if math.IsInf(worst.pct, -1) { // the hill is shorter than a span
		last := spans[len(spans)-1]
		worst.pct, worst.highM = last.pct+last.errPct, last.highM
	}
	worst.perM = spans[0].perM
	worst.setAir(s.hotC)
	return piece{worst, slantOf(&worst, 0)}
}

// firstFrom is the first of the spans, in order, that begins at a place or after it.
func firstFrom(spans []span, fromM float64) int {
	lo, hi := 0, len(spans)
	for lo < hi {
		if mid := (lo + hi) / 2; spans[mid].beginM < fromM {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return lo
}

// tightestOn is the tightest radius at the nodes between two places, both counted.
func (h *Hill) tightestOn(fromM, toM float64) float64 {
	tightest := math.Inf(1)
	for i, r := range h.RadiusM {
		if s := h.StationM[i]; r > 0 && r < tightest && s >= fromM && s <= toM {
			tightest = r
		}
	}
	return tightest
}

// Advise works out the advice for a class on the hill; see the function Advise.
func (a *Adviser) Advise(c vehicle.Class, o Options) (catalog.Hold, error) {
	return NewFleet([]vehicle.Class{c}).Advise(a, 0, o)
}
