//go:build unix

package main

import (
	"os"
	"os/exec"
	"time"
)

// noteEvery is how often an open desk looks whether its note is still there.
const noteEvery = time.Minute

// noteFolder is the session's own folder, which is emptied when the session ends; "" where there is none.
func noteFolder() string { return os.Getenv("XDG_RUNTIME_DIR") }

// browse shows an address in the user's browser. It may last as long as the browser.
func browse(address string) error { return exec.Command("xdg-open", address).Run() }

// dialog shows a text with the first of the desktops' programs for that which there is.
func dialog(text string) {
	for _, words := range [][]string{
		{"zenity", "--info", "--no-markup", "--title=phototrack", "--text=" + text},
		{"kdialog", "--title", "phototrack", "--msgbox", text},
		{"xmessage", "-center", text},
		{"notify-send", "--urgency=critical", "phototrack", text},
	} {
		if show := exec.Command(words[0], words[1:]...); show.Start() == nil {
			show.Wait() // how it was closed does not matter
			return
		}
	}
}

// prepareConsole has nothing to do: every terminal takes what the program writes.
func prepareConsole() {}

// takesANSI says whether a terminal understands escape sequences.
func takesANSI(*os.File) bool { return true }
