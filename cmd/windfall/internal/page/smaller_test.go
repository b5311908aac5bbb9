package page

import (
	"compress/gzip"
	"io"
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What a phone waits for comes compressed, and once: page and documents, not
// what holds the join code; who reads no gzip gets it plain.
func TestSmaller(t *testing.T) {
	c := newClient(t)
	reads := func(r *http.Request) { r.Header.Set("Accept-Encoding", "gzip, br") }
	want, err := static.ReadFile("static/crew.js")
	require.NoError(t, err)
	w := visit(c.page, "GET", "http://page.test/crew.js", reads)
	assert.Equal(t, "gzip", w.Header().Get("Content-Encoding"))
	assert.Less(t, w.Body.Len(), len(want)/2)
	z, err := gzip.NewReader(w.Body)
	require.NoError(t, err)
	got, err := io.ReadAll(z)
	require.NoError(t, err)
	assert.Equal(t, want, got)
	tag := w.Header().Get("ETag")
	w = visit(c.page, "GET", "http://page.test/crew.js", reads, func(r *http.Request) { r.Header.Set("If-None-Match", tag) })
	assert.Equal(t, http.StatusNotModified, w.Code)
	assert.Empty(t, w.Body.Bytes())
	assert.Empty(t, w.Header().Get("Content-Encoding"))
	w = visit(c.page, "GET", "http://page.test/crew.css", reads, func(r *http.Request) { r.Header.Set("If-None-Match", tag) })
	assert.Equal(t, http.StatusOK, w.Code, "of another file")
	w = visit(c.page, "GET", "http://page.test/crew.js")
	assert.Equal(t, want, w.Body.Bytes())
	assert.Equal(t, "Accept-Encoding", w.Header().Get("Vary"))
	for path, is := range map[string]string{"/api/v1/field": "gzip", "/api/v1/people": "", "/nowhere": "gzip"} {
		assert.Equal(t, is, visit(c.page, "GET", "http://page.test"+path, reads).Header().Get("Content-Encoding"), path)
	}
}
