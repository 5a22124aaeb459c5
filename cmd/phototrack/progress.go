package main

import (
	"os"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"

	"phototrack/internal/intake"
	"phototrack/internal/pipeline"
)

// progress is a bar with a count and the time left, on a terminal; elsewhere nothing.
func progress() intake.Progress {
	if !term.IsTerminal(int(os.Stderr.Fd())) {
		return intake.Progress{}
	}
	var bar *progressbar.ProgressBar
	return intake.Progress{
		Plan: func(n int) {
			if n > 0 {
				bar = progressbar.NewOptions(n, progressbar.OptionSetDescription("measuring"), progressbar.OptionShowCount(),
					progressbar.OptionSetPredictTime(true), progressbar.OptionSetWriter(os.Stderr), progressbar.OptionSetWidth(30),
					progressbar.OptionClearOnFinish(), progressbar.OptionUseANSICodes(takesANSI(os.Stderr)))
			}
		},
		Done: func(pipeline.Outcome) {
			if bar != nil {
				bar.Add(1)
			}
		},
	}
}
