package store

import (
	"database/sql"
	"fmt"
	"reflect"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
)

// sites copies the sites that the target does not have.
func (m *merger) sites() error {
	ours, theirs := map[string]catalog.Site{}, []catalog.Site{}
	if err := readSites(m.dst.file, func(s catalog.Site) { ours[s.ID] = s }); err != nil {
		return err
	}
	if err := readSites(m.src, func(s catalog.Site) { theirs = append(theirs, s) }); err != nil {
		return err
	}
	extent := gpkg.EmptyEnvelope()
	for i := range theirs {
		s := &theirs[i]
		if mine, ok := ours[s.ID]; ok {
			if reflect.DeepEqual(mine, *s) {
				continue
			}
			m.report.Conflicts = append(m.report.Conflicts, Conflict{s.ID, "site", siteWords(&mine), siteWords(s), m.o.TakeTheirs})
			if !m.o.TakeTheirs {
				continue
			}
		}
		if err := m.dst.writeSite(s, m.o.By); err != nil {
			return err
		}
		extent.Add(s.Point.LonDeg, s.Point.LatDeg)
		m.report.Sites = append(m.report.Sites, s.ID)
	}
	if len(m.report.Sites) == 0 {
		return nil
	}
	return m.dst.file.WidenExtent("sites", extent)
}

func readSites(q gpkg.Querier, do func(catalog.Site)) error {
	return gpkg.Each(q, func(rows *sql.Rows) error {
		s, err := scanSite(rows)
		if err == nil {
			do(s)
		}
		return err
	}, siteQuery+" ORDER BY id")
}

func descentWords(e *catalog.Entry) string {
	d := &e.Descent
	return fmt.Sprintf("%.0f m to %.0f m, %.0f m down, mean %.2f %%, surveyed %s", d.StartM, d.EndM, d.DropM, d.MeanDowngradePct, e.Provenance.At.Format("2006-01-02"))
}

func siteWords(s *catalog.Site) string {
	w := fmt.Sprintf("%s %q at %.6f, %.6f", s.Kind, s.Name, s.Point.LonDeg, s.Point.LatDeg)
	if s.StationM != nil {
		w += fmt.Sprintf(", station %.0f m", *s.StationM)
	}
	return w
}
