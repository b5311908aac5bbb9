package page

import (
	"net"
	"os/exec"
	"runtime"
)

// Reached is the address by which a listener is reached: one of this machine's
// own where it listens on all.
func Reached(a net.Addr) string {
	host, port, err := net.SplitHostPort(a.String())
	if err != nil {
		return a.String()
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		host = "127.0.0.1"
		addrs, _ := net.InterfaceAddrs() // none: loopback still serves
		for _, x := range addrs {
			if n, ok := x.(*net.IPNet); ok && n.IP.To4() != nil && !n.IP.IsLoopback() {
				host = n.IP.String()
				break
			}
		}
	}
	return net.JoinHostPort(host, port)
}

// OpenBrowser opens an address as the desktop does; where there is none, the
// line that was printed serves.
func OpenBrowser(url string) {
	name, args := "xdg-open", []string{url}
	switch runtime.GOOS {
	case "darwin":
		name = "open"
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", url}
	}
	if cmd := exec.Command(name, args...); cmd.Start() == nil {
		go cmd.Wait() // nothing hangs on how the browser ends
	}
}
