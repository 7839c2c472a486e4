package vector

import (
	"fmt"
	"io"
	"math"

	"github.com/muktihari/fit/decoder"
	"github.com/muktihari/fit/profile/basetype"
	"github.com/muktihari/fit/profile/mesgdef"
	"github.com/muktihari/fit/profile/untyped/mesgnum"
	"github.com/muktihari/fit/proto"

	"gradeline/routes"
)

// isFIT reports whether a file begins as one of the Flexible and Interoperable Data Transfer
// protocol: its header has ".FIT" at byte 8.
func isFIT(head []byte) bool { return len(head) >= 12 && string(head[8:12]) == ".FIT" }

// fit reads the record messages of a FIT file; each file of a chain is a part of its own. Heights
// are those of absolute_pressure where the recorder wrote it, else its altitude, whose source the
// file does not state.
func (b *recorder) fit(in io.Reader) (err error) {
	defer func() { // a damaged file must not end the program
		if x := recover(); x != nil {
			err = b.fault(0, fmt.Sprintf("not a sound FIT file: %v", x), "export the drive again, or as GPX")
		}
	}()
	b.lineWord = "record"
	l := &fitRecords{b: b}
	d := decoder.New(in, decoder.WithMesgListener(l), decoder.WithBroadcastOnly())
	for d.Next() {
		if _, err := d.Decode(); err != nil {
			return b.fault(l.records, "not a sound FIT file: "+err.Error(), "export the drive again, or as GPX")
		}
		l.part++
		if l.err != nil {
			return l.err
		}
	}
	if l.hasPressure {
		b.out.Heights = routes.HeightBarometric
		for i := range b.out.Fixes {
			b.out.Fixes[i].HeightM = l.pressureM[i]
		}
	}
	return l.err
}

// fitRecords collects the records of a file as the decoder comes to them.
type fitRecords struct {
	b             *recorder
	records, part int
	hasPressure   bool
	pressureM     []float64 // of each fix, NaN where it is not recorded
	err           error
}

// OnMesg is called by the decoder for each message.
func (l *fitRecords) OnMesg(m proto.Message) {
	if m.Num != mesgnum.Record || l.err != nil {
		return
	}
	l.records++
	r := mesgdef.NewRecord(&m)
	f := unknownFix(l.records, l.part)
	switch {
	case r.Timestamp.IsZero():
		l.b.undated++
		return
	case r.PositionLat == basetype.Sint32Invalid || r.PositionLong == basetype.Sint32Invalid:
		l.b.skip(l.records, "it has no place")
		return
	}
	const degPerSemicircle = 180.0 / (1 << 31)
	f.At, f.LonDeg, f.LatDeg = r.Timestamp.UTC(), float64(r.PositionLong)*degPerSemicircle, float64(r.PositionLat)*degPerSemicircle
	if v := r.EnhancedSpeedScaled(); !math.IsNaN(v) {
		f.SpeedMPS = v
	} else if v := r.SpeedScaled(); !math.IsNaN(v) {
		f.SpeedMPS = v
	}
	if v := r.EnhancedAltitudeScaled(); !math.IsNaN(v) {
		f.HeightM = v
	} else if v := r.AltitudeScaled(); !math.IsNaN(v) {
		f.HeightM = v
	}
	if r.Temperature != basetype.Sint8Invalid {
		f.TempC = float64(r.Temperature)
	}
	pressureM := math.NaN()
	if r.AbsolutePressure != basetype.Uint32Invalid {
		pressureM = HeightFromPressureM(float64(r.AbsolutePressure) / 100)
		l.hasPressure = l.hasPressure || !math.IsNaN(pressureM)
	}
	n := len(l.b.out.Fixes)
	if l.err = l.b.add(f); len(l.b.out.Fixes) > n {
		l.pressureM = append(l.pressureM, pressureM)
	}
}
