package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Versions of packages rise with the commits, through a tag and beyond, as dpkg compares them.
func TestVersionsOfPackagesRise(t *testing.T) {
	repo := t.TempDir()
	for _, d := range []string{"scripts", "cmd/phototrack"} {
		require.NoError(t, os.MkdirAll(filepath.Join(repo, d), 0o755))
	}
	copyFile(t, "../../scripts/version.sh", filepath.Join(repo, "scripts/version.sh"))
	copyFile(t, "root.go", filepath.Join(repo, "cmd/phototrack/root.go"))
	run := func(name string, args ...string) string {
		cmd := exec.Command(name, args...)
		cmd.Dir = repo
		out, err := cmd.CombinedOutput()
		require.NoError(t, err, string(out))
		return strings.TrimSpace(string(out))
	}
	now := func() string { return run("bash", "scripts/version.sh") }
	git := func(args ...string) {
		run("git", append([]string{"-c", "user.name=A", "-c", "user.email=a@example.org", "-c", "commit.gpgsign=false", "-c", "tag.gpgsign=false"}, args...)...)
	}
	commit := func(date string) string {
		t.Setenv("GIT_COMMITTER_DATE", date)
		git("commit", "-q", "--allow-empty", "-m", "A step")
		return now()
	}

	assert.Equal(t, version, now(), "an archive without history")
	git("init", "-q")
	git("add", ".")
	rising := []string{commit("2026-11-20T10:00:00+01:00"), commit("2026-11-20T17:30:00-05:00")}
	assert.Regexp(t, "^"+regexp.QuoteMeta(version)+`~20261120\.0900\.g[0-9a-f]{7}$`, rising[0])
	git("tag", "v"+version)
	rising = append(rising, now())
	assert.Equal(t, version, rising[2])
	for range 11 {
		rising = append(rising, commit("2026-11-21T10:00:00Z"))
	}
	assert.Regexp(t, "^"+regexp.QuoteMeta(version)+`\+1\.g[0-9a-f]{7}$`, rising[3])
	if dpkg, err := exec.LookPath("dpkg"); err == nil {
		for i := 1; i < len(rising); i++ {
			assert.NoError(t, exec.Command(dpkg, "--compare-versions", rising[i-1], "lt", rising[i]).Run(), "%s before %s", rising[i-1], rising[i])
		}
	}
	run("sh", "-c", "echo >> scripts/version.sh")
	assert.True(t, strings.HasSuffix(now(), ".changed"))
}
