package serve

import (
	"net/http"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/survey"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
)

// queueView lists the descents that need a review, most urgent first.
type queueView struct {
	frame
	Rows []queueRow
}

type queueRow struct{ Address, Title, State, Reasons, Words string }

func (s *Server) queuePage(w http.ResponseWriter, r *http.Request) {
	now, isOld, err := s.list.current(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	items, err := s.cat.Queue(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if isOld { // the list may rest for a while, what needs a look may not
		now = &snapshot{invented: now.invented}
	}
	say, err := now.drivesSay(r.Context(), s.cat)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	items = survey.AddToQueue(items, say)
	v := &queueView{frame: s.frame(r, "Review")}
	if now.invented {
		v.Invented = wording.InventedBanner
	}
	for _, it := range items {
		title := wording.Plain(it.Name)
		if strings.TrimSpace(title) == "" {
			title = wording.Plain(it.ID)
		}
		state := string(it.State)
		if it.State == catalog.Surveyed {
			state = "not reviewed"
		}
		v.Rows = append(v.Rows, queueRow{descentAddress(it.ID) + "#review", wording.Shortened(title, wording.MostNameColumns), state, strings.Join(it.Reasons, ", "), wording.Plain(it.Words)})
	}
	s.show(w, r, http.StatusOK, "queue", v)
}

// classByID is a class of the server's options; nil where it has none of that id.
func (s *Server) classByID(id string) *vehicle.Class {
	k, _ := vehicle.ClassByID(s.opt.Classes, id) // nil for an unknown one
	return k
}
