package app_test

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"dwellbook/internal/account"
	"dwellbook/internal/app"
	"dwellbook/internal/desk"
)

func TestListening_PlainHTTPStaysOnTheMachine(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		at     app.Listening
		passes bool
	}{
		{"loopback", app.Listening{Addr: "127.0.0.1:8080"}, true},
		{"loopback of IPv6", app.Listening{Addr: "[::1]:8080"}, true},
		{"loopback by name", app.Listening{Addr: "localhost:8080"}, true},
		{"every address", app.Listening{Addr: ":8080"}, false},
		{"every address in digits", app.Listening{Addr: "0.0.0.0:8080"}, false},
		{"one on the network", app.Listening{Addr: "192.0.2.7:8080"}, false},
		{"told in so many words", app.Listening{Addr: "0.0.0.0:8080", Plain: true}, true},
		{"with TLS", app.Listening{Addr: "0.0.0.0:8080", Cert: "c", Key: "k"}, true},
		{"half a pair", app.Listening{Addr: "127.0.0.1:8080", Cert: "c"}, false},
		{"both at once", app.Listening{Addr: "127.0.0.1:8080", Cert: "c", Key: "k", Plain: true}, false},
		{"no address", app.Listening{Addr: "nowhere"}, false},
	} {
		err := c.at.Check()
		if c.passes {
			require.NoError(t, err, c.name)
			continue
		}
		var misuse *app.Misuse
		require.ErrorAs(t, err, &misuse, c.name)
	}
}

// certify writes a certificate for the loopback address, and gives its number.
func certify(t *testing.T, at app.Listening) *big.Int {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	number, err := rand.Int(rand.Reader, big.NewInt(1<<62))
	require.NoError(t, err)
	template := &x509.Certificate{
		SerialNumber: number, Subject: pkix.Name{CommonName: "cannulas.hospital.example"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
	}
	cert, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	require.NoError(t, err)
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(at.Cert, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: cert}), 0o600))
	require.NoError(t, os.WriteFile(at.Key, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}), 0o600))
	// A file system may not tell two writes within its tick apart.
	later := time.Now().Add(time.Duration(number.Int64()%1000+1) * time.Second)
	require.NoError(t, os.Chtimes(at.Cert, later, later))
	return number
}

// serveOn serves a product until the test ends.
func serveOn(t *testing.T, c app.Config, at app.Listening) net.Addr {
	t.Helper()
	c.DB = filepath.Join(t.TempDir(), "record.db")
	a, err := app.New(t.Context(), c)
	require.NoError(t, err)
	_, err = a.Desk.OpenAccount(t.Context(), desk.System(), desk.NewAccount{
		ID: "person", SignIn: "nurse", Name: "Somebody", Role: account.Nurse, Passphrase: passphrase,
	})
	require.NoError(t, err)
	l, err := a.Listen(at)
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- a.Run(ctx, l) }()
	t.Cleanup(func() {
		stop()
		require.NoError(t, <-ended)
		require.NoError(t, a.Close())
	})
	return l.Addr()
}

func TestTLS_ServesWithTheCertificateAsItIsNow(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	at := app.Listening{Addr: "127.0.0.1:0", Cert: filepath.Join(dir, "cert.pem"), Key: filepath.Join(dir, "key.pem")}
	first := certify(t, at)
	addr := serveOn(t, app.Config{Secure: true}, at)
	serial := func() *big.Int {
		conn, err := tls.Dial("tcp", addr.String(), &tls.Config{InsecureSkipVerify: true}) // the test made it itself
		require.NoError(t, err)
		defer func() { require.NoError(t, conn.Close()) }()
		return conn.ConnectionState().PeerCertificates[0].SerialNumber
	}
	require.Equal(t, first, serial())
	second := certify(t, at)
	require.Equal(t, second, serial(), "renewed without a restart")
	require.NoError(t, os.WriteFile(at.Key, []byte("half written"), 0o600))
	require.Equal(t, second, serial(), "the old pair serves until the new one is whole")
	_, err := tls.Dial("tcp", addr.String(), &tls.Config{InsecureSkipVerify: true, MaxVersion: tls.VersionTLS11})
	require.Error(t, err, "TLS 1.1 and before are over (RFC 8996)")
}

// The prefix __Host- is of RFC 6265bis: Secure, the whole path, no domain.
func TestTLS_EveryCookieIsBoundToTheHost(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	at := app.Listening{Addr: "127.0.0.1:0", Cert: filepath.Join(dir, "cert.pem"), Key: filepath.Join(dir, "key.pem")}
	certify(t, at)
	base := "https://" + serveOn(t, app.Config{Secure: true}, at).String()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	client := &http.Client{
		Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}, ForceAttemptHTTP2: true},
	}
	answer, err := client.PostForm(base+"/sign-in", url.Values{"sign_in": {"nurse"}, "passphrase": {passphrase}})
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusSeeOther, answer.StatusCode)
	require.Equal(t, 2, answer.ProtoMajor)
	require.NotEmpty(t, answer.Header.Get("Strict-Transport-Security"))
	require.NotEmpty(t, answer.Cookies())
	for _, c := range answer.Cookies() {
		require.Regexp(t, "^__Host-", c.Name)
		require.True(t, c.Secure && c.HttpOnly && c.Path == "/" && c.Domain == "", c.Name)
		require.Equal(t, http.SameSiteLaxMode, c.SameSite, c.Name)
	}
}

func TestServer_CutsOffAClientThatDripsItsHeaders(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("takes as long as a slow client is borne with")
	}
	addr := serveOn(t, app.Config{}, app.Listening{Addr: "127.0.0.1:0"})
	conn, err := net.Dial("tcp", addr.String())
	require.NoError(t, err)
	defer func() { _ = conn.Close() }()
	start := time.Now()
	_, err = conn.Write([]byte("GET /sign-in HTTP/1.1\r\nHost: x\r\nX-Slow: "))
	require.NoError(t, err)
	cut := make(chan struct{})
	go func() {
		defer close(cut)
		for b := []byte{0}; ; {
			if _, err := conn.Read(b); err != nil {
				return
			}
		}
	}()
	for tick := time.NewTicker(500 * time.Millisecond); ; {
		select {
		case <-cut:
			require.Less(t, time.Since(start), 20*time.Second)
			return
		case <-tick.C:
			_, _ = conn.Write([]byte("a"))
			require.Less(t, time.Since(start), 20*time.Second, "still let in")
		}
	}
}
