package store

import (
	"bufio"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/shared/testserver"
)

var (
	killRounds = flag.Int("kill-rounds", 24, "how often TestKill kills a writer")
	killSeed   = flag.Uint64("kill-seed", 0, "seed of TestKill; 0 takes a new one and prints it")
)

const childEnv = "GRADELINE_STORE_TEST_CHILD"

func TestMain(m *testing.M) {
	if path := os.Getenv(childEnv); path != "" {
		if err := writeForever(path); err != nil {
			fmt.Println("fault", err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	if what := os.Getenv(holdEnv); what != "" {
		if err := hold(what); err != nil {
			fmt.Println("fault", err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	flag.Parse()
	os.Exit(testserver.Run(m))
}

const killDescents = 3 // of each road of the kill test

// writeForever surveys road after road, again and again, and reviews between,
// telling each whole commit, until it is killed.
func writeForever(path string) error {
	c, err := Open(ctx, path, Options{Create: true, Tool: "gradeline test"})
	if err != nil {
		return err
	}
	fmt.Println("open")
	before, err := c.Descents(ctx, Filter{})
	if err != nil {
		return err
	}
	pass := 0.0 // every pass over a road writes a higher number into each of its descents
	for _, e := range before {
		pass = max(pass, e.Descent.DropM)
	}
	for k := 0; ; k++ {
		pass++
		s := c.BeginSurvey(SaveOptions{By: "child", RoutesPerCommit: 1 + k%4})
		for j := range 4 {
			rs := survey(fmt.Sprintf("road %d", (4*k+j)%40), killDescents)
			for i := range rs.Entries {
				rs.Entries[i].Descent.DropM = pass
				rs.Entries[i].Holds[0].OneGearUp = strings.Repeat("x", 2000)
			}
			if _, err := s.Save(ctx, rs); err != nil {
				return err
			}
		}
		if err := s.Close(); err != nil {
			return err
		}
		for j := range 4 {
			fmt.Println("committed", (4*k+j)%40, pass)
		}
		id := fmt.Sprintf("road-%d-f-1.0", 4*k%40)
		if err := c.Review(ctx, id, catalog.Review{State: catalog.FieldChecked, By: "child", Note: fmt.Sprint(k)}); err != nil {
			return err
		}
		fmt.Println("reviewed", id, k)
	}
}

// A writer killed at any moment leaves whole roads: all that it said were
// committed, each with all its descents and holds of one pass, and its reviews.
func TestKill(t *testing.T) {
	seed := *killSeed
	if seed == 0 {
		seed = uint64(time.Now().UnixNano())
	}
	t.Logf("replay with -args -kill-seed=%d -kill-rounds=%d", seed, *killRounds)
	r := rand.New(rand.NewPCG(seed, 4))
	path := filepath.Join(t.TempDir(), "hills.gpkg")
	hot, commits := 0, 0
	for round := range *killRounds {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), childEnv+"="+path)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewReader(out)
		// Wait for a random number of its reports, then a random moment more.
		wait := r.IntN(12)
		var said []string
		for len(said) <= wait {
			line, err := lines.ReadString('\n')
			if err != nil {
				t.Fatalf("round %d: the writer ended by itself: %q %v", round, said, err)
			}
			said = append(said, strings.TrimSpace(line))
		}
		time.Sleep(time.Duration(r.IntN(20000)) * time.Microsecond)
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		rest, _ := io.ReadAll(lines)
		whole := strings.Split(string(rest), "\n")
		said = append(said, whole[:len(whole)-1]...) // what follows the last newline was cut by the kill
		cmd.Wait()
		if gpkg.HasJournal(path) {
			hot++
		}
		committed, reviewed := map[string]float64{}, map[string]string{}
		for _, l := range said {
			var road int
			var pass float64
			var id, note string
			if _, err := fmt.Sscanf(l, "committed %d %g", &road, &pass); err == nil {
				committed[fmt.Sprintf("road %d", road)] = pass
			}
			if _, err := fmt.Sscanf(l, "reviewed %s %s", &id, &note); err == nil {
				reviewed[id] = note
			}
			if strings.HasPrefix(l, "fault") {
				t.Fatalf("round %d: %s", round, l)
			}
		}
		commits += len(committed)
		checkAfterKill(t, path, round, committed, reviewed)
	}
	mustBeValid(t, path, "all kills")
	t.Logf("%d kills, %d with a hot journal, %d routes committed in all, nothing lost", *killRounds, hot, commits)
}

func checkAfterKill(t *testing.T, path string, round int, committed map[string]float64, reviewed map[string]string) {
	t.Helper()
	c, err := Open(ctx, path, Options{})
	if err != nil {
		t.Fatalf("round %d: %v", round, err)
	}
	defer c.Close()
	list, err := c.Descents(ctx, Filter{})
	if err != nil {
		t.Fatalf("round %d: %v", round, err)
	}
	roads := map[string][]catalog.Entry{}
	for _, e := range list {
		roads[e.Descent.Route] = append(roads[e.Descent.Route], e)
	}
	for name, pass := range committed {
		if len(roads[name]) == 0 || roads[name][0].Descent.DropM < pass {
			t.Errorf("round %d: pass %v of %s was committed and is lost", round, pass, name)
		}
	}
	for name, es := range roads {
		if len(es) != killDescents {
			t.Errorf("round %d: %s has %d descents", round, name, len(es))
		}
		for _, e := range es {
			if len(e.Holds) != 2 || e.Descent.DropM != es[0].Descent.DropM {
				t.Errorf("round %d: %s is half of one pass and half of another", round, e.Descent.ID)
			}
		}
	}
	for id, note := range reviewed {
		e, err := c.Descent(ctx, id)
		if err != nil || e.Review.State != catalog.FieldChecked || len(e.Review.Note) < len(note) && e.Review.Note != note {
			t.Errorf("round %d: review %q of %s lost: %+v %v", round, note, id, e.Review, err)
		}
	}
	if f, err := c.Doctor(ctx); err != nil || len(f) != 0 {
		t.Errorf("round %d: doctor: %+v %v", round, f, err)
	}
}

// Two surveys and five readers at once, each through its own handle on the file.
func TestTwoWritersFiveReaders(t *testing.T) {
	c, path := fresh(t)
	save(t, c, survey("road 0", killDescents), SaveOptions{})
	stop, cancel := context.WithCancel(ctx)
	defer cancel()
	var readers, writers, firstReads sync.WaitGroup
	reads := make([]int, 5)
	for i := range 5 {
		readers.Add(1)
		firstReads.Add(1)
		go func() {
			defer readers.Done()
			hasRead := sync.OnceFunc(firstReads.Done)
			defer hasRead()
			c, err := Open(ctx, path, Options{ReadOnly: true, BusyTimeout: 30 * time.Second})
			if err != nil {
				t.Error(err)
				return
			}
			defer c.Close()
			for stop.Err() == nil {
				list, err := c.Descents(stop, Filter{Brief: true})
				if err != nil {
					if !errors.Is(err, context.Canceled) {
						t.Error(err)
					}
					return
				}
				n := map[string]int{}
				for _, e := range list {
					n[e.Descent.Route]++
				}
				for road, k := range n {
					if k%killDescents != 0 && len(list) <= chunk {
						t.Errorf("a reader saw %d descents of %s", k, road)
					}
				}
				reads[i]++
				hasRead()
				time.Sleep(time.Millisecond)
			}
		}()
	}
	const roads = 12
	for w := range 2 {
		writers.Add(1)
		go func() {
			defer writers.Done()
			c, err := Open(ctx, path, Options{BusyTimeout: 60 * time.Second})
			if err != nil {
				t.Error(err)
				return
			}
			defer c.Close()
			for k := range roads {
				if _, err := c.SaveRoute(ctx, survey(fmt.Sprintf("writer %d road %d", w, k), killDescents), SaveOptions{By: fmt.Sprint("writer ", w)}); err != nil {
					t.Error(err)
					return
				}
			}
		}()
	}
	writers.Wait()
	firstReads.Wait() // fast writers must not end before every reader had its turn
	cancel()
	readers.Wait()
	list, err := c.Descents(ctx, Filter{})
	if err != nil || len(list) != (2*roads+1)*killDescents {
		t.Errorf("%d descents, %v", len(list), err)
	}
	for i, n := range reads {
		if n == 0 {
			t.Errorf("reader %d never read", i)
		}
	}
	if f, err := c.Doctor(ctx); err != nil || len(f) != 0 {
		t.Errorf("doctor: %+v %v", f, err)
	}
	mustBeValid(t, path, "two writers and five readers")
}
