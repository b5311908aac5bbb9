package certificate

import (
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var now = time.Date(2026, 4, 18, 9, 0, 0, 0, time.UTC)

// Who trusts the authority reaches the page by its address, and nobody else.
func TestServes(t *testing.T) {
	a, err := Open(t.TempDir(), time.Now())
	require.NoError(t, err)
	assert.True(t, a.Made)
	pair, err := a.For("127.0.0.1", []net.IP{net.IPv4(127, 0, 0, 1), net.ParseIP("8.8.8.8")}, []string{"my-laptop.local"}, time.Now())
	require.NoError(t, err)
	l, err := tls.Listen("tcp", "127.0.0.1:0", &tls.Config{Certificates: []tls.Certificate{pair}})
	require.NoError(t, err)
	srv := &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { io.WriteString(w, "here") })}
	go srv.Serve(l)
	defer srv.Close()
	get := func(roots *x509.CertPool, name string) error {
		_, port, err := net.SplitHostPort(l.Addr().String())
		require.NoError(t, err)
		c := http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots}}}
		r, err := c.Get("https://" + net.JoinHostPort(name, port))
		if err == nil {
			r.Body.Close()
		}
		return err
	}
	cert, err := x509.ParseCertificate(a.DER)
	require.NoError(t, err)
	trusting := x509.NewCertPool()
	trusting.AddCert(cert)
	assert.NoError(t, get(trusting, "127.0.0.1"))
	assert.NoError(t, get(trusting, "localhost"))
	leaf, err := x509.ParseCertificate(pair.Certificate[0])
	require.NoError(t, err)
	_, err = leaf.Verify(x509.VerifyOptions{Roots: trusting, DNSName: "my-laptop.local"})
	assert.NoError(t, err)
	assert.Error(t, get(x509.NewCertPool(), "127.0.0.1"), "nobody told this one to trust it")
}

// Whoever steals the authority's key cannot pass for a site on the internet.
func TestVouchesForLittle(t *testing.T) {
	a, err := Open(t.TempDir(), now)
	require.NoError(t, err)
	_, err = a.For("8.8.8.8", []net.IP{net.ParseIP("8.8.8.8")}, nil, now)
	assert.ErrorContains(t, err, "8.8.8.8 is no address of a private network")
	assert.ErrorContains(t, err, "--tls-cert")
	_, all, err := net.ParseCIDR("0.0.0.0/0")
	require.NoError(t, err)
	permitted := a.cert.PermittedIPRanges
	a.cert.PermittedIPRanges = append(a.cert.PermittedIPRanges, all) // what a thief would do
	forged, err := a.For("8.8.8.8", []net.IP{net.ParseIP("8.8.8.8")}, nil, now)
	require.NoError(t, err)
	a.cert.PermittedIPRanges = permitted
	leaf, err := x509.ParseCertificate(forged.Certificate[0])
	require.NoError(t, err)
	honest, err := x509.ParseCertificate(a.DER)
	require.NoError(t, err)
	roots := x509.NewCertPool()
	roots.AddCert(honest)
	_, err = leaf.Verify(x509.VerifyOptions{Roots: roots, CurrentTime: now})
	assert.ErrorContains(t, err, "not permitted by any constraint")
}

// The authority stays the same until its time is nearly over; only its user can
// read its key.
func TestKept(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "tls")
	a, err := Open(dir, now)
	require.NoError(t, err)
	for _, name := range []string{"authority.crt", "authority.key"} {
		st, err := os.Stat(filepath.Join(dir, name))
		require.NoError(t, err)
		assert.Equal(t, os.FileMode(0o600), st.Mode().Perm(), name)
	}
	b, err := Open(dir, now.Add(300*24*time.Hour))
	require.NoError(t, err)
	assert.False(t, b.Made)
	assert.Equal(t, a.Fingerprint(), b.Fingerprint())
	assert.Len(t, a.Fingerprint(), 32*3-1)
	c, err := Open(dir, now.Add(340*24*time.Hour))
	require.NoError(t, err)
	assert.True(t, c.Made)
	assert.NotEqual(t, a.Fingerprint(), c.Fingerprint())
	require.NoError(t, os.WriteFile(filepath.Join(dir, "authority.key"), []byte("nothing"), 0o600))
	_, err = Open(dir, now)
	assert.ErrorContains(t, err, "to have new ones made")
	file := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	_, err = Open(filepath.Join(file, "tls"), now)
	assert.Error(t, err)
}

// What OpenSSL makes of it, which knows nothing of how it was made.
func TestAsOthersReadIt(t *testing.T) {
	if _, err := exec.LookPath("openssl"); err != nil {
		t.Skip("openssl is not here")
	}
	dir := t.TempDir()
	a, err := Open(dir, time.Now())
	require.NoError(t, err)
	pair, err := a.For("192.168.1.20", []net.IP{net.IPv4(192, 168, 1, 20)}, nil, time.Now())
	require.NoError(t, err)
	leaf := filepath.Join(dir, "leaf.crt")
	require.NoError(t, os.WriteFile(leaf, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: pair.Certificate[0]}), 0o600))
	out, err := exec.Command("openssl", "verify", "-x509_strict", "-purpose", "sslserver", "-verify_ip", "192.168.1.20",
		"-CAfile", filepath.Join(dir, "authority.crt"), leaf).CombinedOutput()
	assert.NoError(t, err, "%s", out)
	out, err = exec.Command("openssl", "verify", "-verify_ip", "192.168.1.21", "-CAfile", filepath.Join(dir, "authority.crt"),
		leaf).CombinedOutput()
	assert.Error(t, err, "%s", out)
}
