package routes

// Descent is a sustained downgrade in one direction of travel. Stations are
// from the line's first vertex whatever the direction, so StartM > EndM when
// the direction is backward. Downgrades are positive per cent.
type Descent struct {
	ID        string    `json:"id"`
	Route     string    `json:"route"`
	Name      string    `json:"name,omitempty"`
	Direction Direction `json:"direction"`
	StartM    float64   `json:"start_m"` // crest
	EndM      float64   `json:"end_m"`   // foot
	StartErrM float64   `json:"start_err_m"`
	EndErrM   float64   `json:"end_err_m"`
	LengthM   float64   `json:"length_m"`
	DropM     float64   `json:"drop_m"`
	// Where the crest and the foot may lie at the most within their bounds, by station:
	// the stretch between them contains the one from StartM to EndM.
	StartOuterM float64 `json:"start_outer_m"`
	EndOuterM   float64 `json:"end_outer_m"`

	MeanDowngradePct    float64 `json:"mean_downgrade_pct"`
	MeanDowngradeErrPct float64 `json:"mean_downgrade_err_pct"` // 95 % half-width

	// Steepest parts by window; a descent shorter than the window has its own mean over
	// its full length. StationM values say where the window starts, in travel.
	Steepest100Pct  float64 `json:"steepest_100m_pct"`
	Steepest500Pct  float64 `json:"steepest_500m_pct"`
	Steepest1000Pct float64 `json:"steepest_1000m_pct"`
	Steepest100AtM  float64 `json:"steepest_100m_start_m"`
	Steepest500AtM  float64 `json:"steepest_500m_start_m"`
	Steepest1000AtM float64 `json:"steepest_1000m_start_m"`
	// 95 % half-widths of the three, points of per cent. A short steep part comes out
	// too gentle on coarse terrain, so these can be far wider than the mean's.
	Steepest100ErrPct  float64 `json:"steepest_100m_err_pct"`
	Steepest500ErrPct  float64 `json:"steepest_500m_err_pct"`
	Steepest1000ErrPct float64 `json:"steepest_1000m_err_pct"`
	// SteepParts are notably steeper than the rest of the descent. PossibleSteepM is the length of
	// other road that may be as steep within its bound.
	SteepParts     []SteepPart `json:"steep_parts"`
	PossibleSteepM float64     `json:"possible_steep_m"`

	CrestElevationM float64 `json:"crest_elevation_m"`
	FootElevationM  float64 `json:"foot_elevation_m"`
	// 95 % half-widths of the two heights at StartM and EndM.
	CrestElevationErrM float64 `json:"crest_elevation_err_m"`
	FootElevationErrM  float64 `json:"foot_elevation_err_m"`
	CrestLonDeg        float64 `json:"crest_lon_deg"`
	CrestLatDeg        float64 `json:"crest_lat_deg"`
	FootLonDeg         float64 `json:"foot_lon_deg"`
	FootLatDeg         float64 `json:"foot_lat_deg"`

	// TightestRadiusM is nil where no curve is tighter than 5,000 m.
	TightestRadiusM   *float64 `json:"tightest_radius_m"`
	TightestRadiusAtM *float64 `json:"tightest_radius_at_m"`

	InterpolatedM float64  `json:"interpolated_m"` // over structures and voids
	Benches       []Bench  `json:"benches"`
	Flags         []string `json:"flags"` // FlagBorderline, FlagUnreliable, …

	// GoesOn are the roads in which the hill continues where its route ends, each with the figures
	// of the complete hill.
	GoesOn []GoesOn `json:"goes_on,omitempty"`
}

// GoesOn is one continuation of a hill beyond its route's end.
type GoesOn struct {
	Route            string  `json:"route"` // road of the continuation
	LengthM          float64 `json:"length_m"`
	DropM            float64 `json:"drop_m"`
	MeanDowngradePct float64 `json:"mean_downgrade_pct"`
}

// Flags that a descent can carry.
const (
	FlagBorderline    = "borderline"      // within its bounds of a threshold
	FlagUnreliable    = "unreliable"      // its grade line is unreliable
	FlagInterpolated  = "interpolated"    // over a quarter of it has no ground under it
	FlagAgainstOneWay = "against-one-way" // in the direction that a one-way road does not allow
	FlagCutByEnd      = "cut-by-end"      // it reaches the end of the line or of the terrain
)

// Bench is an easier stretch within a descent, in travel order.
type Bench struct {
	StartM              float64 `json:"start_m"`
	EndM                float64 `json:"end_m"`
	LengthM             float64 `json:"length_m"`
	MeanDowngradePct    float64 `json:"mean_downgrade_pct"` // negative where it climbs
	MeanDowngradeErrPct float64 `json:"mean_downgrade_err_pct"`
	// Means of the parts before and after it, each to the next bench or the end of the descent; 0 for no part.
	BeforeMeanPct float64 `json:"before_mean_downgrade_pct"`
	BeforeErrPct  float64 `json:"before_mean_downgrade_err_pct"`
	AfterMeanPct  float64 `json:"after_mean_downgrade_pct"`
	AfterErrPct   float64 `json:"after_mean_downgrade_err_pct"`
}

// SteepPart is a stretch that is notably steeper than the road around it. Stations
// are in travel order, as a descent's are.
type SteepPart struct {
	Direction           Direction `json:"direction"`
	StartM              float64   `json:"start_m"`
	EndM                float64   `json:"end_m"`
	LengthM             float64   `json:"length_m"`
	MeanDowngradePct    float64   `json:"mean_downgrade_pct"`
	MeanDowngradeErrPct float64   `json:"mean_downgrade_err_pct"` // 95 % half-width
	// Flags are those that a descent can carry, for a part outside any descent; a part within one
	// shares the descent's.
	Flags []string `json:"flags,omitzero"`
}

// HasFlag reports whether the descent carries flag f.
func (d *Descent) HasFlag(f string) bool {
	for _, x := range d.Flags {
		if x == f {
			return true
		}
	}
	return false
}

// TravelFromStationM is the distance of a station from the crest in travel, negative before the
// crest.
func (d *Descent) TravelFromStationM(stationM float64) float64 {
	if d.Direction == Backward {
		return d.StartM - stationM
	}
	return stationM - d.StartM
}

// StationFromTravelM is the station of a distance from the crest in travel.
func (d *Descent) StationFromTravelM(travelM float64) float64 {
	if d.Direction == Backward {
		return d.StartM - travelM
	}
	return d.StartM + travelM
}
