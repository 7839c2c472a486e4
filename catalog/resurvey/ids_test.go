package resurvey

import "testing"

func TestSlugs(t *testing.T) {
	for name, want := range map[string]string{
		"Kestrel Road": "kestrel-road", "  Grüner  Weg! ": "gruner-weg", "O'Brien’s Hill": "obriens-hill", "SR-20 / US 40": "sr-20-us-40",
		"日本": "", "--": "", "Ægir Øst": "aegir-ost",
	} {
		if got := Slug(name); got != want {
			t.Errorf("%q gives %q, want %q", name, got, want)
		}
	}
}
