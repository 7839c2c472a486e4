package store

import (
	"cmp"
	"database/sql"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
)

// sites copies the sites that the target does not have.
func (m *merger) sites() error {
	ours, theirs := map[string]*catalog.Site{}, []catalog.Site{}
	if err := readSites(m.dst.file, func(s catalog.Site) { ours[s.ID] = &s }); err != nil {
		return err
	}
	if err := readSites(m.src, func(s catalog.Site) { theirs = append(theirs, s) }); err != nil {
		return err
	}
	extent := gpkg.EmptyEnvelope()
	for i := range theirs {
		s := &theirs[i]
		if road, isRenamed := m.ourID[s.Route]; isRenamed {
			s.Route = road
			s.ID = cmp.Or(resurvey.FindSite(ours, s), s.ID)
		}
		takesTheirs, conflict := resurvey.MergeSite(ours[s.ID], s, &m.choices)
		if conflict != nil {
			m.report.Conflicts = append(m.report.Conflicts, *conflict)
		}
		if !takesTheirs {
			continue
		}
		if err := m.dst.writeSite(s, m.choices.By); err != nil {
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
	if err := gpkg.CheckRows(q, "sites"); err != nil {
		return err
	}
	return gpkg.Each(q, func(rows *sql.Rows) error {
		s, err := scanSite(rows)
		if err == nil {
			do(s)
		}
		return err
	}, siteQuery+" ORDER BY id")
}
