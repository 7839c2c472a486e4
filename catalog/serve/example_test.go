package serve_test

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"os"
	"path/filepath"

	"gradeline/catalog"
	"gradeline/catalog/serve"
	"gradeline/catalog/specimen"
	"gradeline/catalog/store"
	"gradeline/routes"
)

// A catalogue is served on a free port until the context ends.
func Example() {
	dir, err := os.MkdirTemp("", "example")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	ctx, end := context.WithCancel(context.Background())
	defer end()
	open := func(ctx context.Context, forChange bool) (*store.Catalog, error) {
		return store.Open(ctx, filepath.Join(dir, "hills.gpkg"), store.Options{Create: true, ReadOnly: !forChange, Tool: "example"})
	}
	c, err := open(ctx, true)
	if err != nil {
		fmt.Println(err)
		return
	}
	hill := store.RouteSurvey{Route: store.RouteRecord{ID: "Harrow Hill Road", Reliable: true}, Entries: []catalog.Entry{specimen.Entry(routes.Forward)}}
	if _, err := c.SaveRoute(ctx, hill, store.SaveOptions{By: "Ada"}); err != nil {
		fmt.Println(err)
		return
	}
	c.Close()

	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		fmt.Println(err)
		return
	}
	server, err := serve.New(ctx, serve.Options{Open: open, Hosts: serve.HostsOf(l.Addr())})
	if err != nil {
		fmt.Println(err)
		return
	}
	ended := make(chan error)
	go func() { ended <- server.Serve(ctx, l) }()
	for _, address := range []string{"/", "/?token=" + server.Token()} {
		answer, err := http.Get("http://" + l.Addr().String() + address)
		if err != nil {
			fmt.Println(err)
			return
		}
		answer.Body.Close()
		fmt.Println(answer.Request.URL.Path, answer.StatusCode) // the client keeps no cookie
	}
	end()
	fmt.Println(<-ended)
	// Output:
	// / 401
	// / 401
	// <nil>
}
