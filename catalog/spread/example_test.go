package spread_test

import (
	"fmt"

	"gradeline/catalog/spread"
)

// What a database's owner allows a role that takes part in surveys.
func ExampleGrants() {
	for _, line := range spread.Grants("survey_worker")[:2] {
		fmt.Println(line)
	}
	// Output:
	// GRANT USAGE ON SCHEMA gradeline_queue TO "survey_worker";
	// GRANT SELECT ON ALL TABLES IN SCHEMA gradeline_queue TO "survey_worker";
}
