package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"phototrack/internal/collection"
	"phototrack/internal/desk"
	"phototrack/internal/fsx"
)

// notePrefix begins the names of notes.
const notePrefix = "phototrack-desk-"

// homeFolder is the collection of who never named one, in the home folder.
const homeFolder = "Phototrack"

// runDeskFromMenu serves the desk for somebody who sees no terminal: the collection is made if need be, and a second
// click on the menu shows the desk that is open already.
func runDeskFromMenu(cmd *cobra.Command, a *app, o deskOptions) error {
	first, err := a.menuCollection()
	if err != nil {
		return err
	}
	// What a browser or a dialog is started with stands in the list of processes: addresses that work once.
	show := func(pass func() string) <-chan struct{} {
		return openBrowser(pass(), func() {
			dialog("phototrack is ready, but no browser could be opened. Open this address in one, within a few minutes:\n" + pass())
		})
	}
	note := addressNote(a.collectionDir())
	if pass, ok := note.running(); ok {
		select {
		case <-show(func() string { return pass }):
		case <-time.After(soon):
		}
		return nil
	}
	d, l, err := openDesk(cmd, a, o)
	if err != nil {
		return err
	}
	address := d.Address(l)
	ctx := cmd.Context()
	if note != "" && note.write(address) == nil {
		defer note.remove(address)
		var stop context.CancelFunc
		ctx, stop = context.WithCancel(ctx)
		defer stop()
		go note.watch(ctx, noteEvery, stop)
	}
	page := "/"
	if first {
		page = "/start"
	}
	show(func() string { return d.Pass(l, page) })
	return d.Serve(ctx, l)
}

// menuCollection settles which collection a start from the menu means, and makes it at the first start.
func (a *app) menuCollection() (first bool, err error) {
	if a.dir == "" {
		a.dir = os.Getenv("PHOTOTRACK_COLLECTION")
	}
	if a.dir == "" {
		home, err := os.UserHomeDir()
		if err != nil {
			return false, &fsx.HintError{What: "your home folder is not known", Hint: "Name the collection's folder with --collection.", Err: err}
		}
		a.dir = filepath.Join(home, homeFolder)
	}
	if collection.IsCollection(a.dir) {
		return false, nil
	}
	_, err = collection.Init(a.dir)
	if errors.Is(err, collection.ErrNotEmpty) {
		err = &fsx.HintError{What: err.Error(), Hint: "phototrack keeps its collection in a folder of that name. Give that folder another name, then start phototrack again; nothing in it was changed.", Err: collection.ErrNotEmpty}
	}
	return err == nil, err
}

// deskNote is the file in which an open desk's address lies for the next start: in a folder that only this user can read
// (noteFolder). An empty path stands for no such folder.
type deskNote string

func addressNote(dir string) deskNote {
	run := noteFolder()
	abs, err := filepath.Abs(dir)
	if run == "" || err != nil {
		return ""
	}
	sum := sha256.Sum256([]byte(abs + "\n" + version)) // an upgraded program opens a desk of its own
	return deskNote(filepath.Join(run, notePrefix+hex.EncodeToString(sum[:6])))
}

// running gives an address that works once if a desk still answers at the noted one.
func (n deskNote) running() (pass string, ok bool) {
	data, err := os.ReadFile(string(n))
	if err != nil {
		return "", false
	}
	address := strings.TrimSpace(string(data))
	if !strings.HasPrefix(address, "http://127.0.0.1:") {
		return "", false
	}
	client := http.Client{Timeout: 3 * time.Second}
	r, err := client.Get(strings.Replace(address, "/?", desk.PassPath+"?", 1))
	if err != nil {
		return "", false
	}
	defer r.Body.Close()
	text, err := io.ReadAll(io.LimitReader(r.Body, 500))
	pass = strings.TrimSpace(string(text))
	origin, _, _ := strings.Cut(address, "/?")
	return pass, err == nil && r.StatusCode == http.StatusOK && strings.HasPrefix(pass, origin+"/?")
}

func (n deskNote) write(address string) error {
	return fsx.WriteFileAtomic(string(n), []byte(address+"\n"), 0o600)
}

// remove takes the note away, unless another desk has written its own meanwhile.
func (n deskNote) remove(address string) {
	if data, err := os.ReadFile(string(n)); err == nil && strings.TrimSpace(string(data)) == address {
		os.Remove(string(n))
	}
}

// watch keeps the note fresh and calls gone when it is no more: the user's session has ended, or the program is being
// removed, and a desk that nobody can see should end with it. (Files of the session's folder that are not touched for six
// hours may be cleared away: XDG Base Directory Specification 0.8.)
func (n deskNote) watch(ctx context.Context, every time.Duration, gone func()) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case now := <-tick.C:
			if errors.Is(os.Chtimes(string(n), now, now), os.ErrNotExist) {
				gone()
				return
			}
		}
	}
}
