package signs

import (
	"errors"
	"maps"
	"testing"

	"gradeline/terrain"
)

func TestParseChoices(t *testing.T) {
	got, err := ParseChoices([]string{"plaque=grade", "post=a=b", "plaque=length"})
	if want := map[string]string{"plaque": "length", "post": "a=b"}; err != nil || !maps.Equal(got, want) {
		t.Errorf("%v, %v", got, err)
	}
	if got, err := ParseChoices([]string{"plaque=grade", "post"}); !errors.Is(err, terrain.ErrInput) || got != nil {
		t.Errorf("without an option: %v, %v", got, err)
	}
}
