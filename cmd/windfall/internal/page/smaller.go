package page

import (
	"compress/gzip"
	"net/http"
	"strings"
)

// smaller compresses what next answers, for those who can read it (RFC 9110).
// The library's own gzip does: those made for this bring a megabyte of other
// formats with them.
func smaller(next http.Handler) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		w.Header().Add("Vary", "Accept-Encoding")
		if !strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
			next.ServeHTTP(w, r)
			return
		}
		p := &packedWriter{ResponseWriter: w}
		next.ServeHTTP(p, r)
		if p.z != nil {
			p.z.Close() // the reader may have gone; there is nobody to tell
		}
	}
}

// packedWriter compresses a body, where there is one.
type packedWriter struct {
	http.ResponseWriter
	z *gzip.Writer
}

func (p *packedWriter) WriteHeader(status int) {
	if p.z == nil && status >= 200 && status != http.StatusNoContent && status != http.StatusNotModified {
		p.Header().Set("Content-Encoding", "gzip")
		p.z = gzip.NewWriter(p.ResponseWriter)
	}
	p.ResponseWriter.WriteHeader(status)
}

func (p *packedWriter) Write(b []byte) (int, error) {
	if p.z == nil {
		p.WriteHeader(http.StatusOK)
	}
	return p.z.Write(b)
}
