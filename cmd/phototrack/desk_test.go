package main

import (
	"bufio"
	"io"
	"net/http"
	"net/http/cookiejar"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The desk says its address first, lies on the loopback address alone, and ends in order.
func TestDeskSaysItsAddress(t *testing.T) {
	dir := samples(t, func(string) bool { return false })
	cmd := exec.Command(bin, "desk", "--no-browser", "--collection", dir)
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	defer cmd.Process.Kill()
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(t, err)
	address := strings.TrimSpace(line)
	require.True(t, strings.HasPrefix(address, "http://127.0.0.1:"), address)

	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	client := &http.Client{Jar: jar, Timeout: 10 * time.Second}
	get := func(url string) (int, string) {
		r, err := client.Get(url)
		require.NoError(t, err)
		defer r.Body.Close()
		data, err := io.ReadAll(r.Body)
		require.NoError(t, err)
		return r.StatusCode, string(data)
	}
	base, _, _ := strings.Cut(address, "?")
	code, _ := get(base)
	assert.Equal(t, 403, code, "the address without its key is not enough")
	code, page := get(address)
	assert.Equal(t, 200, code)
	assert.Contains(t, page, "Neoregelia")
	code, _ = get(base)
	assert.Equal(t, 200, code, "the browser is known from then on")

	port, _, _ := strings.Cut(strings.TrimPrefix(address, "http://127.0.0.1:"), "/")
	code, _, errs := program(t, "desk", "--no-browser", "--port", port, "--collection", dir)
	assert.Equal(t, 2, code)
	assert.Contains(t, errs, "cannot be used")
	assert.Contains(t, errs, "hint:")

	require.NoError(t, cmd.Process.Signal(syscall.SIGINT))
	require.NoError(t, cmd.Wait())
}
