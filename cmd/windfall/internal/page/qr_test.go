package page

import (
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a phone's camera makes of the picture is the address with the code, as
// zbarimg (Debian package zbar-tools) reads it.
func TestQR(t *testing.T) {
	s := share(t, t.TempDir())
	laptop := s.laptop()
	r, err := laptop.http.Get(s.url + "/api/v1/code/picture")
	require.NoError(t, err)
	defer r.Body.Close()
	assert.Equal(t, "image/png", r.Header.Get("Content-Type"))
	png := filepath.Join(t.TempDir(), "code.png")
	f, err := os.Create(png)
	require.NoError(t, err)
	_, err = f.ReadFrom(r.Body)
	require.NoError(t, err)
	require.NoError(t, f.Close())
	guest, err := s.in("Ines").http.Get(s.url + "/api/v1/code/picture")
	require.NoError(t, err)
	guest.Body.Close()
	assert.Equal(t, http.StatusForbidden, guest.StatusCode)
	assert.Contains(t, QR(s.url, s.page.JoinCode()), "\u2588", "the same in letters")
	if _, err := exec.LookPath("zbarimg"); err != nil {
		t.Skip("zbarimg is not here; it is of zbar-tools")
	}
	out, err := exec.Command("zbarimg", "-q", "--nodbus", "--raw", png).Output()
	require.NoError(t, err)
	assert.Equal(t, s.url+"/join?code="+s.page.JoinCode(), strings.TrimSpace(string(out)))
	c := newClient(t)
	assert.Equal(t, http.StatusConflict, visit(c.page, "GET", "http://page.test/api/v1/code/picture").Code, "nobody else comes in")
	assert.Equal(t, http.StatusConflict, visit(c.page, "POST", "http://page.test/api/v1/code").Code)
}
