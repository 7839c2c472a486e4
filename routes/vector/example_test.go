package vector_test

import (
	"context"
	"fmt"
	"strings"

	"gradeline/routes"
	"gradeline/routes/vector"
)

// Lines are handed out as they are read; what makes none is named.
func ExampleRead() {
	in := strings.NewReader(`{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"name":"Old Road"},"geometry":{"type":"LineString","coordinates":[[11,46],[11.01,46]]}},
{"type":"Feature","properties":{"name":"A place"},"geometry":{"type":"Point","coordinates":[11,46]}}]}`)
	skipped, err := vector.Read(context.Background(), "-", vector.Options{Stdin: in}, func(f routes.Feature) error {
		fmt.Println(f.Place, f.Tags["name"], len(f.Line))
		return nil
	})
	fmt.Println(len(skipped), err)
	// Output:
	// -, feature 1 Old Road 2
	// 1 <nil>
}
