package page

import (
	"crypto/sha256"
	"embed"
	"fmt"
	"html/template"
	"mime"
	"net/http"
	"path"
)

//go:embed static
var static embed.FS

// serveStatic serves the page's own few files.
func serveStatic(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		http.Error(w, "the page can only be read", http.StatusMethodNotAllowed)
		return
	}
	name := path.Clean(r.URL.Path)
	if name == "/" {
		name = "/index.html"
	}
	b, err := static.ReadFile("static" + name)
	if err != nil {
		http.Error(w, "there is no such page here; go to /", http.StatusNotFound)
		return
	}
	w.Header().Set("Content-Type", mediaOf(name))
	w.Header().Set("Cache-Control", "no-cache")
	etag := fmt.Sprintf(`W/"%x"`, sha256.Sum256(b)) // weak: it may come compressed
	w.Header().Set("ETag", etag)
	if r.Header.Get("If-None-Match") == etag {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	w.Write(b)
}

// mediaOf is the media type of a file by its name: those that browsers insist on
// do not hang on what the machine knows.
func mediaOf(name string) string {
	switch path.Ext(name) {
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".webmanifest":
		return "application/manifest+json"
	}
	return mime.TypeByExtension(path.Ext(name))
}

// headers sets what every answer says to browsers. Scripts, styles and data
// come from here alone; pictures too, but for a base map that the person at
// the laptop set an address for.
func (s *Server) headers(next http.Handler) http.Handler {
	policy := "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:" + s.base.origin() +
		"; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'" +
		"; worker-src 'self'; manifest-src 'self'"
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=(self)")
		if r.URL.Path != "/" {
			h.Set("Cache-Control", "no-store")
		}
		next.ServeHTTP(w, r)
	})
}

// joinForm is what the page that asks for the join code shows.
type joinForm struct {
	Code  string // typed already, such as by a QR code
	Fault string
	Trust bool // there is a certificate to be trusted
}

// joinPage asks for the join code.
var joinPage = template.Must(template.New("join").Parse(`<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>windfall: come in</title><link rel="stylesheet" href="/page.css"></head>
<body class="join"><main><h1>windfall</h1>
<form method="post" action="/join">
<p><label for="who">Your name</label><input id="who" name="name" maxlength="40" autocomplete="nickname"></p>
<p><label for="code">Join code, from the laptop's screen</label>
<input id="code" name="code" maxlength="20" autocomplete="off" autocapitalize="none" value="{{.Code}}" required></p>
{{if .Fault}}<p class="fault" role="alert">{{.Fault}}</p>{{end}}
<p><button class="act">Come in</button></p></form>
{{if .Trust}}<p><a href="/ca.crt">This laptop's certificate</a>, for your phone to trust: compare its fingerprint
with the laptop's screen first.</p>{{end}}</main></body></html>
`))

func writeJoin(w http.ResponseWriter, status int, form joinForm) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	joinPage.Execute(w, form) // the reader may have gone; there is nobody to tell
}
