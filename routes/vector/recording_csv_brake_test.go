package vector

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A column of brakes that does not say which is refused: read as the recorder's own, a debrief would
// miss it without a word.
func TestABrakeColumnSaysWhich(t *testing.T) {
	for _, name := range []string{"brake", "Brakes", "brake_switch"} {
		path := filepath.Join(t.TempDir(), "d.csv")
		if err := os.WriteFile(path, []byte("time_s,lon_deg,lat_deg,"+name+"\n0,1,2,1\n1,1,2,0\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := ReadRecordings([]string{path}, nil); err == nil || !strings.Contains(err.Error(), "service_brake") {
			t.Errorf("%s: %v", name, err)
		}
	}
}
