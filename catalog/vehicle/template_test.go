package vehicle

import (
	"strings"
	"testing"
)

func TestTemplateParses(t *testing.T) {
	classes, defaults, err := ParseClasses("template", strings.NewReader(Template()))
	if err != nil {
		t.Fatal(err)
	}
	if len(classes) != 1 || len(defaults) != 0 {
		t.Errorf("%d classes, %d defaults; want one class with every figure given: %v", len(classes), len(defaults), defaults)
	}
}
