package catalog

// Source says where a figure or a rule comes from and how far that was seen.
type Source struct {
	Key      string `json:"-"` // by which rules name it
	Document string `json:"document"`
	Section  string `json:"section"`
	Edition  string `json:"edition"`
	Status   string `json:"status"` // "published", "second-hand", "from memory", …
	Note     string `json:"note"`
}
