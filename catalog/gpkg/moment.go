package gpkg

import "time"

// Stamp writes a moment in the form of the GeoPackage standard (OGC 12-128r17
// table 1: DATETIME, ISO 8601, UTC, milliseconds).
func Stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z") }

// ParseMoment reads the result of Stamp, or a date typed by hand; any other text is the zero time.
func ParseMoment(s string) (time.Time, error) {
	if s == "" {
		return time.Time{}, nil
	}
	t, err := time.Parse(time.RFC3339Nano, s)
	if err != nil {
		if t, err = time.Parse("2006-01-02", s[:min(10, len(s))]); err != nil {
			return time.Time{}, nil
		}
	}
	return t.UTC(), nil
}
