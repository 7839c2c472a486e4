package serve

import (
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/shared"
	"gradeline/catalog/shared/testserver"
	"gradeline/catalog/store"
)

// reviewerEnv makes this test program another office: of the catalogue at an address, in somebody's
// name, it reviews a descent.
const reviewerEnv = "GRADELINE_TEST_REVIEWER"

func TestMain(m *testing.M) {
	if what := os.Getenv(reviewerEnv); what != "" {
		if err := reviewAs(what); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(testserver.Run(m))
}

func reviewAs(what string) error {
	words := strings.Fields(what)
	ctx := context.Background()
	c, err := store.Open(ctx, words[0], store.Options{Tool: "test"})
	if err != nil {
		return err
	}
	defer c.Close()
	return c.Review(ctx, words[2], catalog.Review{State: catalog.FieldChecked, By: words[1]})
}

// pooler stands between a client and the server and passes everything on but notifications, as some
// connection poolers do. It counts them.
type pooler struct {
	l       net.Listener
	to      string
	isDeaf  bool
	notices atomic.Int64
}

func newPooler(t *testing.T, to string, isDeaf bool) *pooler {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p := &pooler{l: l, to: to, isDeaf: isDeaf}
	t.Cleanup(func() { l.Close() })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go p.join(c)
		}
	}()
	return p
}

// join passes one connection on. What the server says is read message by message: a letter, and a
// length that counts itself (PostgreSQL's manual, "Frontend/Backend Protocol").
func (p *pooler) join(client net.Conn) {
	defer client.Close()
	server, err := net.Dial("tcp", p.to)
	if err != nil {
		return
	}
	defer server.Close()
	go func() {
		_, _ = io.Copy(server, client)
		server.Close()
	}()
	for {
		var head [5]byte
		if _, err := io.ReadFull(server, head[:]); err != nil {
			return
		}
		body := make([]byte, binary.BigEndian.Uint32(head[1:])-4)
		if _, err := io.ReadFull(server, body); err != nil {
			return
		}
		if head[0] == 'A' { // NotificationResponse
			p.notices.Add(1)
			if p.isDeaf {
				continue
			}
		}
		if _, err := client.Write(append(head[:], body...)); err != nil {
			return
		}
	}
}

// The page of a catalogue in a database shows what another process stores: by notification alone, and
// by looking where none comes through.
func TestThePageShowsWhatOthersStore(t *testing.T) {
	for _, c := range []struct {
		name   string
		isDeaf bool
		poll   time.Duration
	}{{"notified", false, 24 * time.Hour}, {"polling", true, 300 * time.Millisecond}} {
		t.Run(c.name, func(t *testing.T) {
			db := testserver.New(t)
			t.Setenv("XDG_CACHE_HOME", t.TempDir())
			saveSpecimens(t, db.Address())
			db.Ask(t, "ALTER ROLE "+testserver.Owner+" PASSWORD 'page'")
			direct := db.AddressOverTCP(testserver.Owner, "page")
			host := fmt.Sprintf("127.0.0.1:%d", db.Port())
			p := newPooler(t, host, c.isDeaf)
			address := strings.Replace(direct, host, p.l.Addr().String(), 1)
			o := officeOver(t, address)
			stop := shared.WatchInBackground(t.Context(), address, shared.WatchOptions{Options: store.Options{Tool: "test"}, PollEvery: c.poll, Failed: func(err error) { t.Error(err) }})
			defer stop()
			id := o.idOf("Harrow Hill Road")
			// The first review may be seen because the watch begins, the second only because it goes on.
			for _, name := range []string{"Bea", "Cy"} {
				if strings.Contains(o.page(descentAddress(id)), name) {
					t.Fatalf("the page names %s before the review", name)
				}
				self, err := os.Executable()
				if err != nil {
					t.Fatal(err)
				}
				other := exec.Command(self)
				other.Env = append(os.Environ(), reviewerEnv+"="+direct+" "+name+" "+id, "XDG_CACHE_HOME="+t.TempDir())
				if out, err := other.CombinedOutput(); err != nil {
					t.Fatalf("%v: %s", err, out)
				}
				begun := time.Now()
				for !strings.Contains(o.page(descentAddress(id)), name) {
					if time.Since(begun) > time.Minute {
						t.Fatalf("the page does not name %s; %d notifications", name, p.notices.Load())
					}
					time.Sleep(20 * time.Millisecond)
				}
				t.Logf("on the page after %s", time.Since(begun).Round(time.Millisecond))
			}
			if !strings.Contains(o.page("/"), string(catalog.FieldChecked)) {
				t.Error("the list does not have the review")
			}
			if p.notices.Load() == 0 {
				t.Error("the server sent no notification")
			}
		})
	}
}
