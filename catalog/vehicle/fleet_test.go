package vehicle

import (
	"errors"
	"slices"
	"testing"

	"gradeline/catalog"
)

func TestFleet(t *testing.T) {
	all := []Class{{ID: "a"}, {ID: "b"}, {ID: "c"}}
	ids := func(list []Class) (s string) {
		for _, k := range list {
			s += k.ID
		}
		return s
	}
	for _, c := range []struct {
		asked []string
		want  string
	}{{nil, "abc"}, {[]string{"c", "a"}, "ac"}, {[]string{"b"}, "b"}} {
		got, err := Fleet(all, c.asked)
		if err != nil || ids(got) != c.want {
			t.Errorf("%v: %s, %v", c.asked, ids(got), err)
		}
	}
	for _, asked := range [][]string{{"d"}, {"a", "a"}, {""}} {
		if got, err := Fleet(all, asked); !errors.Is(err, catalog.ErrClass) || got != nil {
			t.Errorf("%v: %v, %v", asked, got, err)
		}
	}
}

func TestChooseClasses(t *testing.T) {
	all := []Class{{ID: "a"}, {ID: "b"}, {ID: "c"}}
	for list, want := range map[string][]string{"all": {"a", "b", "c"}, "b": {"b"}, "c, a": {"c", "a"}, "b,a,b": {"b", "a"}} {
		got, err := ChooseClasses(all, list)
		var ids []string
		for _, k := range got {
			ids = append(ids, k.ID)
		}
		if err != nil || !slices.Equal(ids, want) {
			t.Errorf("%q: %v, %v", list, ids, err)
		}
	}
	for list, wrong := range map[string]string{"": "", "a,": "", "a,d": "d", "all,a": "all"} {
		got, err := ChooseClasses(all, list)
		var unknown *UnknownClassError
		if got != nil || !errors.As(err, &unknown) || !errors.Is(err, catalog.ErrClass) || unknown.ID != wrong || !slices.Equal(unknown.Known, []string{"a", "b", "c"}) {
			t.Errorf("%q: %v, %v", list, got, err)
		}
	}
	k, err := ClassByID(all, "b")
	if err != nil || k != &all[1] {
		t.Errorf("b: %v, %v", k, err)
	}
	for id, want := range map[string]string{"d": `there is no class "d"; the classes are a, b, c`, "": "no class is named; the classes are a, b, c"} {
		if k, err := ClassByID(all, id); k != nil || err.Error() != want {
			t.Errorf("%q: %v, %v", id, k, err)
		}
	}
}
