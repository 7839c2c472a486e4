package answer

import (
	"fmt"
	"io"

	"gradeline/catalog"
	"gradeline/catalog/survey"
	"gradeline/catalog/table"
	"gradeline/routes"
)

// WriteSurvey writes the answer of a survey, as one JSON object or as a table for people, and passes
// on what was joined, warnings and gaps, each as a line of its own. isWhole is false where there are
// gaps.
func WriteSurvey(w io.Writer, job *survey.Job, isJSON bool, u catalog.Units, say func(words string)) (isWhole bool, err error) {
	if isJSON {
		err = SurveyJSON(w, job)
	} else {
		err = SurveyText(w, job, u)
	}
	if err != nil {
		return false, err
	}
	for _, l := range NetworkText(job.Network()) {
		say(l)
	}
	for _, l := range job.Warnings() {
		say("warning: " + l)
	}
	isWhole = true
	for gap, err := range job.Gaps() {
		if err != nil {
			return false, err
		}
		isWhole = false
		say("gap: " + gap)
	}
	return isWhole, nil
}

// SurveyText writes the table of a survey for people and where its descents are stored.
func SurveyText(w io.Writer, job *survey.Job, u catalog.Units) error {
	if surveyed, _ := job.Count(); surveyed == 0 {
		_, err := io.WriteString(w, "No road was surveyed: it is not known whether there are descents.\n")
		return err
	}
	worst, found := job.Worst()
	t := ListTable(worst, u)
	if found > len(worst) {
		t.Title = fmt.Sprintf("%d descents; the %d most dangerous", found, len(worst))
	}
	if err := table.WriteText(w, t); err != nil {
		return err
	}
	parts, count := job.SteepParts()
	steep := SteepPartsOf(parts)
	steep.count = count
	if err := steep.writeText(w, u); err != nil {
		return err
	}
	if path := job.Catalog(); job.IsStored() {
		if _, err := fmt.Fprintf(w, "\nStored in %s: gradeline list --catalog %s, gradeline show --catalog %s DESCENT.\n", path, path, path); err != nil {
			return err
		}
	}
	if surveyed, takenOver := job.Count(); takenOver > 0 {
		_, err := fmt.Fprintf(w, "Taken over from the interrupted run that began %s: %d of %d routes, finished with the same terrain, roads, classes and rules.\n",
			job.Began().Format("2006-01-02 15:04 MST"), takenOver, surveyed)
		return err
	}
	return nil
}

// SurveyJSON writes the gradeline/1 object of a survey with KeepAll from its journal, one member a
// line. Memory does not grow with the network.
func SurveyJSON(w io.Writer, job *survey.Job) error {
	s := newStream(w)
	s.text(`{"schema": `).value(catalog.Schema).text(",\n\"catalog\": ").value(job.Catalog()).text(",\n")
	s.text("\"network\": ").value(networkOf(job)).text(",\n")
	s.members(job, "routes", survey.MembersRoutes, nil)
	s.members(job, "descents", survey.MembersDescents, nil)
	s.members(job, "skipped", survey.MembersSkipped, job.Unread())
	s.members(job, "changes", survey.MembersChanges, nil)
	_, takenOver := job.Count()
	s.text("\"taken_over_routes\": ").value(takenOver).text(",\n\"warnings\": ").value(notNil(job.Warnings()))
	return s.text(",\n\"cautions\": ").value(catalog.Cautions()).text("}\n").flush()
}

// members writes a list of the journal after the elements that come first in it.
func (s *stream) members(job *survey.Job, key string, list survey.Members, first []routes.Skipped) {
	lead := "\n"
	s.text("\"" + key + "\": [")
	for _, k := range first {
		s.text(lead).value(k)
		lead = ",\n"
	}
	for b, err := range job.JSON(list) {
		if err != nil {
			s.err = err
			return
		}
		s.text(lead).text(string(b))
		lead = ",\n"
	}
	s.text("],\n")
}
