package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"math/big"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// keyPair writes a certificate of localhost that signs itself, and its key.
func keyPair(t *testing.T) (certificate, key string, pool *x509.CertPool) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), DNSNames: []string{"localhost"}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, private.Public(), private)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	certificate, key = filepath.Join(dir, "certificate.pem"), filepath.Join(dir, "key.pem")
	for path, block := range map[string]*pem.Block{certificate: {Type: "CERTIFICATE", Bytes: der}, key: {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	pool = x509.NewCertPool()
	pool.AppendCertsFromPEM(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}))
	return certificate, key, pool
}

// The program serves by TLS with a given certificate: pages over https and at the address
// it printed, cookies for TLS alone, redirects that stay there, and nothing in the clear.
func TestPanelByTLS(t *testing.T) {
	certificate, key, pool := keyPair(t)
	panel := startPanel(t, "--certificate", certificate, "--key", key, toneSet(t))
	if !strings.HasPrefix(panel.address, "https://localhost:") {
		t.Fatalf("printed %s", panel.address)
	}
	jar, _ := cookiejar.New(nil)
	browser := &http.Client{Jar: jar, Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: pool}}}
	secure := false
	browser.CheckRedirect = func(q *http.Request, _ []*http.Request) error {
		for _, set := range q.Response.Header["Set-Cookie"] {
			secure = strings.Contains(set, "; Secure")
		}
		if !strings.HasPrefix(q.URL.String(), panel.address) {
			t.Errorf("sent to %s", q.URL)
		}
		return nil
	}
	page, err := browser.PostForm(panel.address+"/begin", url.Values{"consent": {"yes"}, "material": {"tone/-20dB"}})
	if err != nil {
		t.Fatal(err)
	}
	page.Body.Close()
	if page.StatusCode != 200 || page.Request.URL.Path != "/level" || page.TLS == nil || page.TLS.Version < tls.VersionTLS12 || !secure {
		t.Errorf("%d at %s, secure cookie %v", page.StatusCode, page.Request.URL, secure)
	}
	if plain, err := http.Get("http" + strings.TrimPrefix(panel.address, "https")); err == nil {
		plain.Body.Close()
		if plain.StatusCode == 200 {
			t.Error("a page in the clear")
		}
	}
}

// toneSet renders a tone.
func toneSet(t *testing.T) string {
	t.Helper()
	out := filepath.Join(t.TempDir(), "set")
	if code, _, stderr := command(t, "render", "--out", out, "--material", "tone", "--quiescent", "1mA", "--level", "-20"); code != exitDone {
		t.Fatal(stderr)
	}
	return out
}

// A certificate without its key, and a proxy at a path, are refused.
func TestPanelServiceFlags(t *testing.T) {
	certificate, _, _ := keyPair(t)
	dir := toneSet(t)
	for want, args := range map[string][]string{
		"--certificate and --key": {"--certificate", certificate, dir},
		"without a path":          {"--behind", "panel.example/listening", dir},
	} {
		code, _, stderr := command(t, append([]string{"panel", "open", "--port", "0"}, args...)...)
		if code == 0 || !strings.Contains(stderr, want) {
			t.Errorf("%q: %d %s", args, code, stderr)
		}
	}
}
