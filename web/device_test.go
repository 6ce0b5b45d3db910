package web

import (
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/require"
)

// The addresses are those set aside for documentation (RFC 5737, RFC 3849).
func TestAddress_IsTheClientsAndNotWhatItClaims(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, remote, forwarded string
		proxied                 bool
		want                    string
	}{
		{"seen here", "192.0.2.7:5123", "", false, "192.0.2.7"},
		{"a claim without anything in front", "192.0.2.7:5123", "198.51.100.1", false, "192.0.2.7"},
		{"told by what stands in front", "127.0.0.1:5123", "198.51.100.1", true, "198.51.100.1"},
		{"only the last is told by it", "127.0.0.1:5123", "203.0.113.9, 198.51.100.1", true, "198.51.100.1"},
		{"not told", "127.0.0.1:5123", "", true, "127.0.0.1"},
		{"no address", "127.0.0.1:5123", "somebody", true, "unknown"},
		{"of IPv6 the network", "[2001:db8:1:2:3:4:5:6]:5123", "", false, "2001:db8:1:2::/64"},
		{"IPv4 written as IPv6", "[::ffff:192.0.2.7]:5123", "", false, "192.0.2.7"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := httptest.NewRequest("POST", "/sign-in", nil)
			r.RemoteAddr = c.remote
			if c.forwarded != "" {
				r.Header.Set("X-Forwarded-For", c.forwarded)
			}
			s := &Server{proxied: c.proxied}
			require.Equal(t, c.want, s.address(r))
		})
	}
}
