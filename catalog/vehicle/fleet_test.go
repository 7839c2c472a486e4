package vehicle

import (
	"errors"
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
