package main

import (
	"crypto/tls"
	"crypto/x509"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestLocalNames(t *testing.T) {
	for _, n := range localNames() {
		assert.Regexp(t, `^[a-z0-9-]+\.local$`, n)
	}
	assert.False(t, hostLabel.MatchString("a.b"))
	assert.False(t, hostLabel.MatchString("-a"))
	assert.True(t, hostLabel.MatchString("a"))
}

// A page by TLS: whoever has been told to trust its authority reads it, nobody
// else does; with files of one's own nothing has to be told.
func TestServeTLS(t *testing.T) {
	dir := garzaCopy(t)
	url, stop := served(t, "--listen", "127.0.0.1:0", "--tls", "--logbook", filepath.Join(dir, "logbook.db"), dir)
	base := url[:strings.Index(url, "/host/")]
	require.True(t, strings.HasPrefix(base, "https://127.0.0.1:"), base)
	text, err := os.ReadFile(filepath.Join(dir, "tls", "authority.crt"))
	require.NoError(t, err)
	roots := x509.NewCertPool()
	require.True(t, roots.AppendCertsFromPEM(text))
	trusting := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots, Time: testClock}}}
	get := func(c *http.Client, path string) (string, error) {
		r, err := c.Get(base + path)
		if err != nil {
			return "", err
		}
		defer r.Body.Close()
		b, err := io.ReadAll(r.Body)
		return string(b), err
	}
	page, err := get(trusting, "/join")
	require.NoError(t, err)
	assert.Contains(t, page, "certificate")
	der, err := get(trusting, "/ca.crt")
	require.NoError(t, err)
	cert, err := x509.ParseCertificate([]byte(der))
	require.NoError(t, err)
	assert.True(t, cert.IsCA)
	_, err = get(http.DefaultClient, "/join")
	assert.ErrorContains(t, err, "certificate")
	stop()

	url, _ = served(t, "--tls-cert", filepath.Join(dir, "tls", "authority.crt"), "--tls-key", filepath.Join(dir, "tls", "authority.key"), dir)
	assert.True(t, strings.HasPrefix(url, "https://"), url)
}
