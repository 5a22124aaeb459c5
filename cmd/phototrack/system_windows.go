package main

import (
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/sys/windows"
)

// noteEvery is how often an open desk looks whether its note is still there: setup takes it away to end a desk, and waits.
const noteEvery = 2 * time.Second

// noteFolder is a folder of the user's own on this computer; "" where it cannot be had. A note that outlives its desk does no
// harm: whoever reads it asks the desk first.
func noteFolder() string {
	local, err := os.UserCacheDir() // %LocalAppData%
	if err != nil {
		return ""
	}
	dir := filepath.Join(local, "phototrack")
	if os.MkdirAll(dir, 0o700) != nil {
		return ""
	}
	return dir
}

// browse shows an address in the user's browser.
func browse(address string) error {
	verb, file := windows.StringToUTF16Ptr("open"), windows.StringToUTF16Ptr(address)
	return windows.ShellExecute(0, verb, file, nil, nil, windows.SW_SHOWNORMAL)
}

// dialog shows a text and waits until it was read.
func dialog(text string) {
	t, err := windows.UTF16PtrFromString(text)
	if err != nil {
		return
	}
	windows.MessageBox(0, t, windows.StringToUTF16Ptr("phototrack"), windows.MB_OK|windows.MB_ICONINFORMATION|windows.MB_SETFOREGROUND)
}

// prepareConsole lets the console understand escape sequences, and tells who double-clicks the program what to click on.
func prepareConsole() {
	cobra.MousetrapHelpText = `phototrack is used from a command window (cmd or PowerShell). To open the desk, start "phototrack" from the
Start menu, or double-click phototrack-desk.exe.
`
	cobra.MousetrapDisplayDuration = 0
	for _, f := range []*os.File{os.Stdout, os.Stderr} {
		var mode uint32
		if windows.GetConsoleMode(windows.Handle(f.Fd()), &mode) == nil {
			windows.SetConsoleMode(windows.Handle(f.Fd()), mode|windows.ENABLE_VIRTUAL_TERMINAL_PROCESSING)
		}
	}
}

// takesANSI says whether a console understands escape sequences: those before Windows 10 do not.
func takesANSI(f *os.File) bool {
	var mode uint32
	return windows.GetConsoleMode(windows.Handle(f.Fd()), &mode) == nil && mode&windows.ENABLE_VIRTUAL_TERMINAL_PROCESSING != 0
}
