package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"

	"phototrack/internal/fsx"
)

// docsCommand writes what a package of the program brings besides the program. It is not for people.
func docsCommand() *cobra.Command {
	return &cobra.Command{
		Use: "docs DIR", Hidden: true, Args: cobra.ExactArgs(1),
		Short: "Write the man pages (DIR/man) and shell completions (DIR/completions)",
		RunE: func(_ *cobra.Command, args []string) error {
			if err := writeManPages(newRoot(), filepath.Join(args[0], "man"), buildDate()); err != nil {
				return err
			}
			return writeCompletions(newRoot(), filepath.Join(args[0], "completions"))
		},
	}
}

// buildDate is now, or SOURCE_DATE_EPOCH where a build is to be repeatable (reproducible-builds.org).
func buildDate() time.Time {
	if d, err := time.ParseDuration(os.Getenv("SOURCE_DATE_EPOCH") + "s"); err == nil {
		return time.Unix(int64(d.Seconds()), 0).UTC()
	}
	return time.Now().UTC()
}

// writeManPages writes a page of section 1 for the command and for each below it that people may use.
func writeManPages(cmd *cobra.Command, dir string, date time.Time) error {
	for _, c := range cmd.Commands() {
		if c.IsAvailableCommand() && !c.IsAdditionalHelpTopicCommand() {
			if err := writeManPages(c, dir, date); err != nil {
				return err
			}
		}
	}
	page, err := manPage(cmd, date)
	if err != nil {
		return err
	}
	name := strings.ReplaceAll(cmd.CommandPath(), " ", "-") + ".1"
	return writeMade(filepath.Join(dir, name), page)
}

// manPage makes a command's page: what cobra writes from the help text, with the options as a list of terms, and what
// help texts leave out.
func manPage(cmd *cobra.Command, date time.Time) ([]byte, error) {
	cmd.DisableAutoGenTag = true
	cmd.Long = manText(cmd.Long)
	if cmd.HasAvailableSubCommands() {
		cmd.Use = cmd.Name() + " COMMAND"
	}
	var b bytes.Buffer
	header := doc.GenManHeader{Section: "1", Date: &date, Source: "phototrack " + version, Manual: "phototrack"}
	if err := doc.GenMan(cmd, &header, &b); err != nil {
		return nil, err
	}
	const options, seeAlso = ".SH OPTIONS\n", ".SH SEE ALSO\n"
	page := manOptions(b.String())
	page = strings.Replace(page, options, manCommands(cmd)+options, 1)
	page = strings.Replace(page, seeAlso, manExitStatus+seeAlso, 1)
	if !cmd.HasParent() {
		page = strings.Replace(page, seeAlso, manFiles+seeAlso, 1)
	}
	return []byte(page), nil
}

var manOption = regexp.MustCompile(`(?m)^(?:\.PP\n)?(\\fB-.*)\n\t(.*)$`)

// manOptions makes each option a term with its meaning below; a switch is shown without a value.
func manOptions(page string) string {
	return manOption.ReplaceAllStringFunc(page, func(s string) string {
		m := manOption.FindStringSubmatch(s)
		term := strings.TrimSuffix(m[1], "[=false]")
		if v, ok := strings.CutSuffix(term, `=""`); ok {
			term = v + `=\fIVALUE\fP`
		}
		return ".TP\n" + strings.ReplaceAll(term, "-", `\-`) + "\n" + m[2]
	})
}

// manCommands lists the commands below one, "" where there are none.
func manCommands(cmd *cobra.Command) string {
	var b strings.Builder
	for _, c := range cmd.Commands() {
		if c.IsAvailableCommand() && !c.IsAdditionalHelpTopicCommand() {
			if b.Len() == 0 {
				b.WriteString(".SH COMMANDS\n")
			}
			fmt.Fprintf(&b, ".TP\n.B %s\n%s\n", strings.TrimPrefix(c.CommandPath(), cmd.Root().Name()+" "), c.Short)
		}
	}
	return b.String()
}

const manExitStatus = `.SH EXIT STATUS
.TP
.B 0
done
.TP
.B 1
done, but some photos need attention
.TP
.B 2
could not do it; the reason and a hint are on standard error
`

const manFiles = `.SH ENVIRONMENT
.TP
.B PHOTOTRACK_COLLECTION
the collection's folder where \fB\-\-collection\fP is not given
.SH FILES
A collection is a folder of ordinary files:
.TP
.I plants.csv events.csv watch.csv cards.csv corrections.csv settings.toml
what you keep; edit them whenever you like
.TP
.I inbox/
where new photos are dropped
.TP
.I photos/
the originals of what was measured, unchanged
.TP
.I marks/ former/
areas drawn on photos; your files as they were before each change that was made on the page
.TP
.I reports/
a folder for each month
.TP
.I phototrack.db
every number with its uncertainty (SQLite)
`

// manText is a help text as Markdown: its indented lines are to stay lines, and the exit codes have a section of their own.
func manText(help string) string {
	var out []string
	inCode := false
	for _, line := range strings.Split(strings.TrimSuffix(help, exitHelp), "\n") {
		code := strings.HasPrefix(line, "  ")
		if code != inCode {
			out = append(out, "") // Markdown wants a block of code set off
		}
		if inCode = code; code {
			line = "    " + strings.TrimPrefix(line, "  ")
		}
		out = append(out, line)
	}
	return strings.Join(out, "\n")
}

// writeCompletions writes the completion of each shell under the name by which the shell finds it.
func writeCompletions(root *cobra.Command, dir string) error {
	for _, c := range []struct {
		path  string
		write func(io.Writer) error
	}{
		{"bash/phototrack", func(w io.Writer) error { return root.GenBashCompletionV2(w, true) }},
		{"zsh/_phototrack", root.GenZshCompletion},
		{"fish/phototrack.fish", func(w io.Writer) error { return root.GenFishCompletion(w, true) }},
	} {
		var b bytes.Buffer
		if err := c.write(&b); err != nil {
			return err
		}
		if err := writeMade(filepath.Join(dir, c.path), b.Bytes()); err != nil {
			return err
		}
	}
	return nil
}

func writeMade(path string, data []byte) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return fsx.Explain(filepath.Dir(path), err)
	}
	return fsx.WriteFileAtomic(path, data, 0o644)
}
