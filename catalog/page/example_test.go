package page_test

import (
	"bytes"
	"fmt"

	"gradeline/catalog"
	"gradeline/catalog/page"
	"gradeline/catalog/plot"
	"gradeline/catalog/specimen"
	"gradeline/routes"
)

// The driver's page of one descent and class, as PDF. Its fingerprint tells later
// whether the paper is still current.
func ExampleSheetPDF() {
	e := specimen.Entry(routes.Forward)
	s := page.Sheet{Entry: e, Class: "us-5axle", View: plot.ViewFromEntry(&e, &e.Holds[0]), Units: catalog.US}
	var pdf bytes.Buffer
	if err := page.SheetPDF(&pdf, s, page.Letter); err != nil {
		fmt.Println(err)
		return
	}
	mark, err := s.Fingerprint()
	fmt.Println(string(pdf.Bytes()[:5]), page.IsFingerprint(mark), err)
	// Output: %PDF- true <nil>
}
