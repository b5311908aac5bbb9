package page

import (
	"net/http"

	"github.com/skip2/go-qrcode"
)

// joinURL is where others come in, with the join code in it.
func joinURL(address, code string) string { return address + "/join?code=" + code }

// QR is the address of a page with its join code as a QR code in letters, for a
// terminal; empty where it does not fit.
func QR(address, code string) string {
	q, err := qrcode.New(joinURL(address, code), qrcode.Low)
	if err != nil {
		return ""
	}
	return q.ToSmallString(false)
}

const qrPixels = 480

// getQR shows the same as a picture, to the person at the laptop.
func (s *Server) getQR(w http.ResponseWriter, _ *http.Request) {
	code := s.doors.code()
	if code == "" {
		writeDoc(w, http.StatusConflict, map[string]any{"message": notShared})
		return
	}
	png, err := qrcode.Encode(joinURL(s.address(), code), qrcode.Medium, qrPixels)
	if err != nil {
		writeDoc(w, http.StatusInternalServerError, map[string]any{"message": err.Error()})
		return
	}
	w.Header().Set("Content-Type", "image/png")
	w.Write(png)
}

// getAuthority hands out the certificate that phones are told to trust.
func (s *Server) getAuthority(w http.ResponseWriter, _ *http.Request) {
	if s.opt.Authority == nil {
		http.Error(w, "this page has no certificate of its own making; start windfall serve with --tls", http.StatusNotFound)
		return
	}
	h := w.Header()
	h.Set("Content-Type", "application/x-x509-ca-cert")
	h.Set("Content-Disposition", `attachment; filename="windfall.crt"`)
	w.Write(s.opt.Authority)
}
