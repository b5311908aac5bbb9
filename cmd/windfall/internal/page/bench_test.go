//go:build unix

package page

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
	"time"
)

// BenchmarkSlider is a hand on a slider of the example flight: a request and
// its answer for each of its moves, with the runs of a moving hand.
func BenchmarkSlider(b *testing.B) {
	dir := b.TempDir()
	if err := os.CopyFS(dir, os.DirFS("../../../../testdata/garza")); err != nil {
		b.Fatal(err)
	}
	s, err := New(Options{Flight: filepath.Join(dir, "flight.yaml"), Logbook: filepath.Join(dir, "logbook.db")})
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	s.doors.hosts["page.test"] = true
	v, err := s.folder.flight()
	if err != nil {
		b.Fatal(err)
	}
	var took []time.Duration
	begun := spent(b)
	for i := 0; b.Loop(); i++ {
		body, _ := json.Marshal(object{"base": v.hash, "runs": quickRuns,
			"edits": []object{{"key": "rail.lean", "value": fmt.Sprintf(`"%g deg"`, float64(i%20)/2)}}})
		w := httptest.NewRecorder()
		begin := time.Now()
		s.Handler().ServeHTTP(w, httptest.NewRequest("POST", "http://page.test/api/v1/tries", bytes.NewReader(body)))
		took = append(took, time.Since(begin))
		if w.Code != 200 {
			b.Fatal(w.Body)
		}
	}
	b.ReportMetric(float64(spent(b)-begun)/float64(time.Millisecond)/float64(len(took)), "cpu-ms/op")
	slices.Sort(took)
	ms := func(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }
	b.ReportMetric(ms(took[len(took)/2]), "ms/median")
	b.ReportMetric(ms(took[len(took)*95/100]), "ms/95th")
}

// spent is the processor time of this program: on a shared machine the clock
// counts what others do.
func spent(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
