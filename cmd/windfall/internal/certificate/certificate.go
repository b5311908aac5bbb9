// Package certificate makes what a page needs to be served by TLS on a network
// of one's own: an authority that only this machine has, and a certificate by it
// for the addresses of this machine.
//
// The authority vouches for addresses of private networks alone (name
// constraints, RFC 5280, 4.2.1.10): were its key stolen, nobody could pass for a
// site on the internet with it. Its key lies in a file that only its user can
// read; that of the certificate is in memory alone.
package certificate

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"
)

const (
	lasts    = 365 * 24 * time.Hour // of both: phones take no more than 825 days
	renew    = 30 * 24 * time.Hour  // before its end a new authority is made
	backdate = time.Hour            // phones' clocks are off
)

// private are the addresses that the authority vouches for: RFC 1918, RFC 3927,
// RFC 4193, RFC 4291 and RFC 6598.
var private = []string{"10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "100.64.0.0/10",
	"127.0.0.0/8", "fc00::/7", "fe80::/10", "::1/128"}

// permitted are the names it vouches for beside them, and what ends in them.
var permitted = []string{"localhost", "local"}

// Authority is what phones are told to trust.
type Authority struct {
	DER  []byte // the certificate
	Made bool   // just now: phones must be told to trust it
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

// Open reads the authority in dir, or makes one where there is none or its time
// is over.
func Open(dir string, now time.Time) (*Authority, error) {
	a, err := load(dir, now)
	if err == nil && a != nil {
		return a, nil
	}
	if err != nil {
		return nil, err
	}
	return create(dir, now)
}

func files(dir string) (cert, key string) {
	return filepath.Join(dir, "authority.crt"), filepath.Join(dir, "authority.key")
}

// load reads the authority; nil: there is none that lasts.
func load(dir string, now time.Time) (*Authority, error) {
	certFile, keyFile := files(dir)
	pair, err := tls.LoadX509KeyPair(certFile, keyFile)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %v; remove %s and %s to have new ones made", dir, err, certFile, keyFile)
	}
	key, ok := pair.PrivateKey.(*ecdsa.PrivateKey)
	if !ok || pair.Leaf == nil || !pair.Leaf.IsCA {
		return nil, fmt.Errorf("%s: is no authority of this program; remove it to have a new one made", certFile)
	}
	if now.Add(renew).After(pair.Leaf.NotAfter) {
		return nil, nil
	}
	return &Authority{DER: pair.Certificate[0], cert: pair.Leaf, key: key}, nil
}

// create makes an authority and writes it.
func create(dir string, now time.Time) (*Authority, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	host, _ := os.Hostname() // a name for people; none will do
	t := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{CommonName: strings.TrimSpace("windfall " + host)},
		NotBefore: now.Add(-backdate), NotAfter: now.Add(lasts),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true,
		KeyUsage:                    x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: permitted,
	}
	for _, p := range private {
		_, n, err := net.ParseCIDR(p)
		if err != nil {
			return nil, err
		}
		t.PermittedIPRanges = append(t.PermittedIPRanges, n)
	}
	der, err := x509.CreateCertificate(rand.Reader, t, t, key.Public(), key)
	if err != nil {
		return nil, err
	}
	a := &Authority{DER: der, Made: true, key: key}
	if a.cert, err = x509.ParseCertificate(der); err != nil {
		return nil, err
	}
	return a, a.write(dir)
}

// write writes both files, which only their user can read.
func (a *Authority) write(dir string) error {
	secret, err := x509.MarshalPKCS8PrivateKey(a.key)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("%s: the certificate cannot be kept there (%v)", dir, errors.Unwrap(err))
	}
	certFile, keyFile := files(dir)
	for _, f := range []struct {
		name string
		kind string
		der  []byte
	}{{keyFile, "PRIVATE KEY", secret}, {certFile, "CERTIFICATE", a.DER}} {
		tmp := f.name + ".new"
		if err := os.WriteFile(tmp, pem.EncodeToMemory(&pem.Block{Type: f.kind, Bytes: f.der}), 0o600); err != nil {
			return fmt.Errorf("%s: the certificate cannot be kept there (%v)", dir, errors.Unwrap(err))
		}
		if err := os.Rename(tmp, f.name); err != nil {
			return err
		}
	}
	return nil
}

func serial() *big.Int {
	b := make([]byte, 16)
	rand.Read(b)
	b[0] &= 0x7f
	return new(big.Int).SetBytes(b)
}

// For makes a certificate for addresses and names (under .local) of this machine. Those that the
// authority does not vouch for are left out, save the one by which others come:
// that is an error.
func (a *Authority) For(others string, ips []net.IP, names []string, now time.Time) (tls.Certificate, error) {
	if ip := net.ParseIP(others); ip == nil || !a.vouches(ip) {
		return tls.Certificate{}, fmt.Errorf("%s is no address of a private network: --tls does not vouch for it; "+
			"listen on one that is, or get a certificate and name it with --tls-cert and --tls-key", others)
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return tls.Certificate{}, err
	}
	t := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{CommonName: "windfall serve"},
		NotBefore: now.Add(-backdate), NotAfter: a.cert.NotAfter,
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true, DNSNames: append([]string{"localhost"}, names...),
	}
	for _, ip := range ips {
		if a.vouches(ip) {
			t.IPAddresses = append(t.IPAddresses, ip)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, t, a.cert, key.Public(), a.key)
	if err != nil {
		return tls.Certificate{}, err
	}
	return tls.Certificate{Certificate: [][]byte{der, a.DER}, PrivateKey: key}, nil
}

func (a *Authority) vouches(ip net.IP) bool {
	for _, n := range a.cert.PermittedIPRanges {
		if n.Contains(ip) {
			return true
		}
	}
	return false
}

// Fingerprint is the SHA-256 of the authority, as phones show it.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.DER)
	var b strings.Builder
	for i, x := range sum {
		if i > 0 {
			b.WriteByte(':')
		}
		fmt.Fprintf(&b, "%02X", x)
	}
	return b.String()
}
