package synth

import (
	"math"

	"gradeline/terrain"
)

// Recorder describes the errors of a recorder. Figures from real recordings of bicycle computers
// and wrist units: white noise 0 to .25 m, drift 0 to 2.8 m per 10 km, scale -3 to +2.3 %, lag .4
// to 1.5 s, static port -.4 to +.4, a slow error of .25 to .6 m (worst .85 to 1.1 m). None was made
// in a truck's cab.
type Recorder struct {
	WhiteM       float64 // noise of each height
	SlowM, SlowS float64 // slow error and its correlation time
	DriftM       float64 // random walk, per 10 km
	ScaleRatio   float64 // sd of the height scale of each drive
	CommonRatio  float64 // height scale that all drives share
	WeatherK     float64 // sd of the air's departure from the standard atmosphere, which all drives share: it scales heights
	Thermometer  Thermometer
	PortRatio    float64 // dh = PortRatio·v²/2g
	LagS         float64 // mean; that of a drive differs by half of it
	PlaceM       float64 // an axis, correlated over 80 s, and .7 m white
	EveryS       float64 // between fixes
	SmoothS      float64 // the recorder averages heights over this time
	StepM        float64 // step to which heights are rounded
}

// Recorders of typical quality.
var (
	OrdinaryRecorder = Recorder{WhiteM: .2, SlowM: .5, SlowS: 15, DriftM: 2, ScaleRatio: .02, PortRatio: .1, LagS: 1, PlaceM: 4, EveryS: 1}
	PoorRecorder     = Recorder{WhiteM: .2, SlowM: .9, SlowS: 20, DriftM: 2, ScaleRatio: .02, PortRatio: .1, LagS: 1, PlaceM: 4, EveryS: 1}
	BestRecorder     = Recorder{WhiteM: .2, DriftM: 2, ScaleRatio: .02, PortRatio: .1, LagS: 1, PlaceM: 4, EveryS: 1}
)

// DriveFix is one fix of a drawn drive, and the true position of the truck.
type DriveFix struct {
	TimeS          float64
	LonDeg, LatDeg float64
	SpeedMPS       float64
	HeightM        float64 // from the barometer
	TempC          float64 // NaN without a thermometer
	TruthStationM  float64 // of the digitised line
}

// driveMostMPS is the greatest speed of a truck.
const driveMostMPS = 22.0

// Drive draws drive number k over the whole road as a recorder writes it; odd numbers go
// backward.
func (r *Road) Drive(rec Recorder, k int) []DriveFix {
	d := newDice(r.options.Seed, streamDrive+uint64(k)<<8)
	n := r.driveCount(rec)
	east, north, slow, pace := ouSeries(d, n, rec.EveryS, 80), ouSeries(d, n, rec.EveryS, 80), ouSeries(d, n, rec.EveryS, math.Max(rec.SlowS, 1)), ouSeries(d, n, rec.EveryS, 40)
	air := r.drawAir(rec, k)
	scale := 1 + rec.CommonRatio + rec.ScaleRatio*d.NormFloat64() + air.scaleRatio
	lagS := math.Max(0, rec.LagS*(1+.5*d.NormFloat64()))
	drift, at := 5*d.NormFloat64(), 0.0
	meanMPS := math.Min(driveMostMPS, .85*r.DesignSpeedKMH*1000/3600)
	middleM := r.TruthElevationM[len(r.TruthElevationM)/2]
	var out []DriveFix
	var heard []float64
	for i := 0; i < n && at <= r.LengthM; i++ {
		speed := meanMPS * clamp(1+.15*pace[i], .4, 1.3)
		station, lagged := at, math.Max(0, at-lagS*speed)
		if k%2 == 1 {
			station, lagged = r.LengthM-station, r.LengthM-lagged
		}
		h := middleM + scale*(r.TruthAtM(lagged)-middleM) + drift + rec.SlowM*slow[i] + rec.WhiteM*d.NormFloat64() + rec.PortRatio*speed*speed/(2*terrain.GravityMPS2)
		heard = append(heard, h)
		x, y := r.centreXY(station)
		lon, lat := r.proj.lonLatFromXY(x+rec.PlaceM*east[i]+.7*d.NormFloat64(), y+rec.PlaceM*north[i]+.7*d.NormFloat64())
		out = append(out, DriveFix{TimeS: float64(i) * rec.EveryS, LonDeg: lon, LatDeg: lat, SpeedMPS: math.Max(0, speed+.1*d.NormFloat64()), HeightM: h, TempC: air.readC(rec.Thermometer, r.TruthAtM(station)), TruthStationM: station})
		stepM := speed * rec.EveryS
		at += stepM
		drift += rec.DriftM * math.Sqrt(stepM/10e3) * d.NormFloat64()
	}
	rec.finish(out, heard)
	return out
}

// driveCount is an upper limit of the fixes of the slowest drive.
func (r *Road) driveCount(rec Recorder) int {
	return int(r.LengthM/(.4*math.Min(driveMostMPS, .85*r.DesignSpeedKMH*1000/3600)*rec.EveryS)) + 2
}

// finish smooths and rounds heights as the recorder does.
func (rec Recorder) finish(out []DriveFix, heard []float64) {
	half := int(rec.SmoothS / rec.EveryS / 2)
	for i := range out {
		sum, n := 0.0, 0
		for j := max(0, i-2*half); j <= i; j++ { // a recorder knows only the past
			sum, n = sum+heard[j], n+1
		}
		h := sum / float64(n)
		if rec.StepM > 0 {
			h = math.Round(h/rec.StepM) * rec.StepM
		}
		out[i].HeightM = h
	}
}

// ouSeries is a unit Ornstein-Uhlenbeck process at equal steps.
func ouSeries(d dice, n int, everyS, corrS float64) []float64 {
	v := make([]float64, n)
	phi := math.Exp(-everyS / corrS)
	v[0] = d.NormFloat64()
	for i := 1; i < n; i++ {
		v[i] = phi*v[i-1] + math.Sqrt(1-phi*phi)*d.NormFloat64()
	}
	return v
}

// centreXY is the true centre at a station of the digitised line.
func (r *Road) centreXY(stationM float64) (x, y float64) {
	s := clamp(stationM, 1, r.LengthM-1)
	x, y = interp(r.lineM, r.lineX, s), interp(r.lineM, r.lineY, s)
	ux, uy := interp(r.lineM, r.lineX, s+1)-interp(r.lineM, r.lineX, s-1), interp(r.lineM, r.lineY, s+1)-interp(r.lineM, r.lineY, s-1)
	if l := math.Hypot(ux, uy); l > 0 {
		off := interp(r.TruthStationM, r.TruthOffsetM, s)
		x, y = x+off*uy/l, y-off*ux/l
	}
	return x, y
}
