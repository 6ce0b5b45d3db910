package web

import (
	"crypto/rand"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"time"

	"dwellbook/internal/desk"
)

// deviceCookie holds a browser's own token, by which it is known again to
// people who have signed in on it.
const deviceCookie = "dwellbook-device"

// deviceRemembered is as long as browsers keep a cookie at most (RFC 6265bis).
const deviceRemembered = 400 * 24 * time.Hour

// cookieName is the name a cookie has: over TLS it is bound to this very host.
func cookieName(name string, secure bool) string {
	if secure {
		return "__Host-" + name
	}
	return name
}

// place is where a request comes from.
func (s *Server) place(r *http.Request) desk.Place {
	p := desk.Place{Address: s.address(r)}
	if c, err := r.Cookie(cookieName(deviceCookie, s.secure)); err == nil {
		p.Device = c.Value
	}
	return p
}

// address is the client's, as this machine saw it or as what stands in front
// did. Of IPv6 it is the network, within which a client changes its own.
func (s *Server) address(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	if s.proxied {
		// Only the last was written by what stands in front; the client may have sent others.
		hops := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
		if last := strings.TrimSpace(hops[len(hops)-1]); last != "" {
			host = last
		}
	}
	ip, err := netip.ParseAddr(host)
	if err != nil {
		return "unknown"
	}
	if ip = ip.Unmap().WithZone(""); ip.Is6() {
		if network, err := ip.Prefix(64); err == nil {
			return network.String()
		}
	}
	return ip.String()
}

// device is the browser's token; one that has none is given one.
func (s *Server) device(w http.ResponseWriter, r *http.Request) string {
	token := s.place(r).Device
	if token == "" {
		token = rand.Text()
	}
	http.SetCookie(w, &http.Cookie{
		Name: cookieName(deviceCookie, s.secure), Value: token, Path: "/", MaxAge: int(deviceRemembered / time.Second),
		Secure: s.secure, HttpOnly: true, SameSite: http.SameSiteLaxMode,
	})
	return token
}
