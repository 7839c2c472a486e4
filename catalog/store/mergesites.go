package store

import (
	"cmp"
	"database/sql"
	"maps"
	"slices"
	"strings"

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
		removed := ""
		if ours[s.ID] == nil {
			var err error
			if removed, err = removedSite(m.dst.file, s.ID); err != nil {
				return err
			}
		}
		takesTheirs, conflict := resurvey.MergeSite(ours[s.ID], s, removed, &m.choices)
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
	if err := m.sitesTheyRemoved(ours, theirs); err != nil || len(m.report.Sites) == 0 {
		return err
	}
	return m.dst.file.WidenExtent("sites", extent)
}

// sitesTheyRemoved reports sites of ours that a person removed in their catalogue.
func (m *merger) sitesTheyRemoved(ours map[string]*catalog.Site, theirs []catalog.Site) error {
	have := map[string]bool{}
	for i := range theirs {
		have[theirs[i].ID] = true
	}
	for _, id := range slices.Sorted(maps.Keys(ours)) {
		if have[id] {
			continue
		}
		removed, err := removedSite(m.src, id)
		if err != nil {
			return err
		}
		if removed != "" {
			m.report.Conflicts = append(m.report.Conflicts, resurvey.SiteTheyRemoved(ours[id], removed))
		}
	}
	return nil
}

// removedSite says who removed a site that a catalogue does not have, and when; empty where nobody did.
func removedSite(q gpkg.Querier, id string) (string, error) {
	var what, by, at, words string
	found, err := gpkg.First(q, []any{&what, &by, &at, &words}, "SELECT what, done_by, at || '', words FROM history WHERE what IN ('site added', 'site changed', 'site removed') AND (words = ?1 OR substr(words, 1, length(?1) + 2) = ?1 || ': ') ORDER BY fid DESC LIMIT 1", id)
	if err != nil || !found || what != "site removed" {
		return "", err
	}
	return "removed by " + by + " on " + at[:min(10, len(at))] + strings.TrimPrefix(words, id), nil
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
