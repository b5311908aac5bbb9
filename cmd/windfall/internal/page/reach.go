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

// Host is Reached without its port.
func Host(a net.Addr) string {
	host, _, err := net.SplitHostPort(Reached(a))
	if err != nil {
		return a.String()
	}
	return host
}

// Addresses are those of this machine by which a listener is reached, loopback
// among them.
func Addresses(a net.Addr) []net.IP {
	out := []net.IP{net.IPv4(127, 0, 0, 1), net.IPv6loopback}
	host, _, err := net.SplitHostPort(a.String())
	ip := net.ParseIP(host)
	if err != nil || ip == nil {
		return out
	}
	if !ip.IsUnspecified() {
		return append(out, ip)
	}
	addrs, _ := net.InterfaceAddrs() // none: loopback still serves
	for _, x := range addrs {
		if n, ok := x.(*net.IPNet); ok {
			out = append(out, n.IP)
		}
	}
	return out
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
