package vehicle

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
)

// figure is the number of a key that ends in its unit, or the text of the same key without
// it. It notes which was written, so that faults speak of that one.
func (b builder) figure(path string, si *float64, text *string, d catalog.Dimension) *float64 {
	if text == nil {
		return si
	}
	key := path[:strings.LastIndexByte(path, '_')]
	if si != nil {
		b.rep.fault(key, "is given twice: as "+lastKey(key)+" and as "+lastKey(path), "keep one of them")
		return si
	}
	f, err := d.Read(*text)
	if err != nil {
		b.rep.writes(path, writtenKey{path: key})
		b.unreadable(path, err)
		return nil
	}
	b.rep.writes(path, writtenKey{path: key, text: *text, show: f.Show})
	return &f.SI
}

// unreadable reports a text that is not a figure.
func (b builder) unreadable(path string, err error) {
	what, fix := err.Error(), "write the figure with its unit"
	if f := (*catalog.Fault)(nil); errors.As(err, &f) {
		what, fix = f.What, f.Fix
	}
	b.rep.fault(path, what, fix)
}

// tempC is a temperature by its key in °C or as a text.
func (b builder) tempC(path string, si *float64, text *string) *float64 {
	if text == nil {
		return si
	}
	key := strings.TrimSuffix(path, "_c")
	if si != nil {
		b.rep.fault(key, "is given twice: as "+lastKey(key)+" and as "+lastKey(path), "keep one of them")
		return si
	}
	c, err := catalog.TempC(*text)
	b.rep.writes(path, writtenKey{path: key})
	if err != nil {
		b.unreadable(path, err)
		return nil
	}
	u := catalog.Metric
	if strings.HasSuffix(strings.ToUpper(*text), "F") {
		u = catalog.US
	}
	b.rep.writes(path, writtenKey{path: key, text: *text, show: u.Temp})
	return &c
}

// writtenCurve is the value of one of several keys, each key with its own unit.
type writtenCurve[T any] struct {
	key, unit string
	isTorque  bool
	figures   T
}

// powerKeys are the keys of a curve of power by engine speed.
func powerKeys[T any](format string, w, kw, hp T) []writtenCurve[T] {
	return []writtenCurve[T]{
		{fmt.Sprintf(format, "w"), "W", false, w}, {fmt.Sprintf(format, "kw"), "kW", false, kw}, {fmt.Sprintf(format, "hp"), "hp", false, hp},
	}
}

// curveKeys are the keys of one curve: power or torque by engine speed.
func (r *retarderTOML) curveKeys() []writtenCurve[[][]float64] {
	return append(powerKeys("power_%s_by_rpm", r.PowerWByRPM, r.PowerKWByRPM, r.PowerHPByRPM),
		writtenCurve[[][]float64]{"torque_nm_by_rpm", "Nm", true, r.TorqueNmByRPM}, writtenCurve[[][]float64]{"torque_lbft_by_rpm", "lbft", true, r.TorqueLbftByRPM})
}

// stageKeys are the keys of one curve a stage.
func (r *retarderTOML) stageKeys() []writtenCurve[[][][]float64] {
	return powerKeys("stages_power_%s_by_rpm", r.StagesW, r.StagesKW, r.StagesHP)
}

// pointUnit is the unit that a curve's points are written in: one of it in watts, or in
// newton metres.
type pointUnit struct {
	si       float64
	isTorque bool
}

// powerW is the power of a point.
func (u pointUnit) powerW(rpm, written float64) float64 {
	if u.isTorque {
		return written * u.si * rpm * math.Pi / 30
	}
	return written * u.si
}

// onlyOne is the one key of several that was written. It notes that key for the checks,
// which speak of path.
func onlyOne[E any](b builder, table, path string, keys []writtenCurve[[]E]) (figures []E, unit pointUnit, isGiven bool) {
	for _, k := range keys {
		if len(k.figures) == 0 {
			continue
		}
		if isGiven {
			b.rep.fault(table+k.key, "is given in two units", "keep one of them")
			continue
		}
		w := writtenKey{path: table + k.key}
		figures, isGiven = k.figures, true
		if k.isTorque {
			unit = pointUnit{catalog.DimensionTorqueNm.One(k.unit).SI, true}
		} else {
			one := catalog.DimensionPowerW.One(k.unit)
			unit, w.show = pointUnit{one.SI, false}, one.Show
		}
		b.rep.writes(path, w)
	}
	return figures, unit, isGiven
}

// isAnyGiven reports whether any of several keys was written.
func isAnyGiven[E any](keys []writtenCurve[[]E]) bool {
	for _, k := range keys {
		if len(k.figures) > 0 {
			return true
		}
	}
	return false
}

// lastKey is the last part of a path.
func lastKey(path string) string { return path[strings.LastIndexByte(path, '.')+1:] }
