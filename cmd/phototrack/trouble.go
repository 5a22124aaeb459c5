package main

import (
	"bytes"
	"context"
	"crypto/rand"
	_ "embed"
	"html/template"
	"net"
	"net/http"
	"time"

	"github.com/spf13/cobra"

	"phototrack/internal/desk"
	"phototrack/internal/fsx"
)

//go:embed trouble.html
var troubleText string

var troublePage = template.Must(template.New("trouble").Parse(troubleText))

// How long the page of a trouble waits for a browser, and how long it stays for one that asks twice.
const (
	troubleWait  = time.Minute
	troubleGrace = 3 * time.Second
)

// showTrouble shows an error to somebody who sees no terminal: as a page in the browser, else in a dialog. The page is
// served rather than left in a file, because a browser in a sandbox may not read files outside the home folder.
func showTrouble(cmd *cobra.Command, trouble error) {
	what, hint := clean(trouble.Error()), clean(fsx.HintOf(trouble))
	plain := func() { dialog("phototrack could not start: " + what + "\n" + hint) }
	l, err := desk.Listen(0)
	if err != nil {
		plain()
		return
	}
	ctx, cancel := context.WithTimeout(cmd.Context(), troubleWait)
	defer cancel()
	path := "/" + rand.Text() // known to our browser only
	openBrowser("http://"+l.Addr().String()+path, func() { plain(); cancel() })
	serveTrouble(ctx, l, path, what, hint)
}

// serveTrouble answers on one path until a browser has fetched the page, or ctx ends.
func serveTrouble(ctx context.Context, l net.Listener, path, what, hint string) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	srv := &http.Server{ReadHeaderTimeout: 10 * time.Second, Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != path || r.Host != l.Addr().String() {
			http.NotFound(w, r)
			return
		}
		nonce := rand.Text()
		var b bytes.Buffer
		if err := troublePage.Execute(&b, struct{ What, Hint, Nonce string }{what, hint, nonce}); err != nil {
			http.Error(w, what+"\n"+hint, http.StatusInternalServerError)
			return
		}
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Header().Set("Content-Security-Policy", "default-src 'none'; img-src data:; style-src 'nonce-"+nonce+"'")
		w.Header().Set("Cache-Control", "no-store")
		w.Write(b.Bytes())
		time.AfterFunc(troubleGrace, cancel)
	})}
	go func() {
		<-ctx.Done()
		srv.Close()
	}()
	srv.Serve(l)
}
