package server

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"math/big"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"strings"
	"testing"
	"time"
)

const proxied = "panel.example"

// certificate makes a certificate for the proxy's name that signs itself.
func certificate(t *testing.T) (tls.Certificate, *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	must(t, err)
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: proxied}, DNSNames: []string{proxied},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	must(t, err)
	parsed, err := x509.ParseCertificate(der)
	must(t, err)
	pool := x509.NewCertPool()
	pool.AddCert(parsed)
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, pool
}

// behindProxy puts a reverse proxy with TLS in front of a server that was told so, and
// returns what opens browsers there. The proxy keeps the name that the browser asked for
// or, as most do unless told otherwise, does not.
func behindProxy(t *testing.T, r *rig, keepHost bool) (browser func() *client) {
	t.Helper()
	inside, err := url.Parse(r.http.URL)
	must(t, err)
	proxy := httptest.NewUnstartedServer(&httputil.ReverseProxy{Rewrite: func(p *httputil.ProxyRequest) {
		p.SetURL(inside)
		p.SetXForwarded()
		if keepHost {
			p.Out.Host = p.In.Host
		}
	}})
	own, pool := certificate(t)
	proxy.TLS = &tls.Config{Certificates: []tls.Certificate{own}}
	proxy.StartTLS()
	t.Cleanup(proxy.Close)
	return func() *client {
		jar, _ := cookiejar.New(nil)
		return &client{base: "https://" + proxied, http: &http.Client{Jar: jar, Transport: &http.Transport{
			TLSClientConfig: &tls.Config{RootCAs: pool, ServerName: proxied},
			DialContext: func(ctx context.Context, _, _ string) (net.Conn, error) {
				var dialer net.Dialer
				return dialer.DialContext(ctx, "tcp", proxy.Listener.Addr().String())
			},
		}}}
	}
}

// A session through a reverse proxy with TLS: the join code is asked for though every
// request comes from this machine, cookies are for TLS alone, no redirect leads out of
// the proxy, and one browser's wrong codes lock out that browser and not the address that
// all of them share.
func TestBehindAProxy(t *testing.T) {
	for _, keepHost := range []bool{true, false} {
		r := newRig(t, Defaults(Adaptive), func(c *Config) {
			c.Secure, c.Behind, c.JoinCode, c.Hosts = true, true, "ABCDEFGH", []string{proxied}
		})
		browser := behindProxy(t, r, keepHost)
		if status, _, _, err := browser().send("GET", "/trial", "", ""); err != nil || status != http.StatusForbidden {
			t.Errorf("without the code: %d %v", status, err)
		}
		wrong, right := browser(), browser()
		const form = "application/x-www-form-urlencoded"
		status := 0
		for range wrongJoins + 1 {
			var err error
			status, _, _, err = wrong.send("POST", "/join", form, "code=WRONGONE")
			must(t, err)
		}
		if status != http.StatusTooManyRequests {
			t.Errorf("after %d wrong codes: %d", wrongJoins+1, status)
		}
		first := true
		right.http.CheckRedirect = func(q *http.Request, via []*http.Request) error {
			if q.URL.Host != proxied || q.URL.Scheme != "https" {
				t.Errorf("sent to %s", q.URL)
			}
			for _, set := range q.Response.Header["Set-Cookie"] {
				first = false
				if !strings.Contains(set, "Secure") || !strings.Contains(set, "HttpOnly") || !strings.Contains(set, "SameSite=Lax") {
					t.Errorf("cookie %q", set)
				}
			}
			return nil
		}
		if status, header, body, err := right.send("POST", "/join", form, "code=ABCDEFGH"); err != nil || status != 200 || header.Get("Strict-Transport-Security") == "" {
			t.Fatal(status, string(body), err)
		}
		must(t, right.begin("Bowed chord"))
		view, err := right.trial()
		must(t, err)
		if status, _, body, err := right.send("GET", "/clip/"+view.Clips[0], "", ""); err != nil || status != 200 || len(body) != 3*view.Channels*view.Frames {
			t.Errorf("clip: %d, %d bytes, %v", status, len(body), err)
		}
		if status, got, err := right.answer(view.Trial, 2); err != nil || status != 200 || !got.Saved {
			t.Errorf("answer: %d %v", status, err)
		}
		if first {
			t.Error("no cookie was looked at")
		}
	}
}

// A name that is neither this machine's nor the proxy's gets nothing.
func TestProxyOfAnotherName(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), func(c *Config) {
		c.Secure, c.Behind, c.JoinCode, c.Hosts = true, true, "ABCDEFGH", []string{"other.example"}
	})
	if status, _, _, err := behindProxy(t, r, true)().send("GET", "/", "", ""); err != nil || status != http.StatusMisdirectedRequest {
		t.Errorf("%d %v", status, err)
	}
}
