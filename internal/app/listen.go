package app

import (
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"sync"
	"time"
)

// Listening says where and how people are let in.
type Listening struct {
	Addr      string // host and port
	Cert, Key string // PEM files; empty: plain HTTP, which only the loopback address takes
	Plain     bool   // plain HTTP on the network all the same
}

// Secure reports whether the program itself speaks TLS.
func (l Listening) Secure() bool { return l.Cert != "" }

// Check refuses what lacks half a pair of files, and plain HTTP on a network
// that nobody asked for; what it refuses is a [*Misuse].
func (l Listening) Check() error {
	switch {
	case (l.Cert == "") != (l.Key == ""):
		return &Misuse{Text: "-tls-cert and -tls-key go together"}
	case l.Secure() && l.Plain:
		return &Misuse{Text: "-plain-http-on-network and -tls-cert exclude each other"}
	}
	at, err := net.ResolveTCPAddr("tcp", l.Addr)
	if err != nil {
		return &Misuse{Text: fmt.Sprintf("-addr: %q is no address: %v", l.Addr, err)}
	}
	if !l.Secure() && !l.Plain && !at.IP.IsLoopback() {
		return &Misuse{Text: "-addr: " + l.Addr + " can be reached from the network, where plain HTTP lets others read passphrases and patients' references.\n" +
			"Give -tls-cert and -tls-key, or listen on 127.0.0.1 behind a server that ends TLS (-behind-tls).\n" +
			"-plain-http-on-network does it all the same"}
	}
	return nil
}

// Listen opens the address that Check let pass.
func (a *App) Listen(l Listening) (net.Listener, error) {
	if err := l.Check(); err != nil {
		return nil, err
	}
	plain, err := net.Listen("tcp", l.Addr)
	if err != nil {
		return nil, fmt.Errorf("listen: %w", err)
	}
	if !l.Secure() {
		return plain, nil
	}
	pair := &keyPair{cert: l.Cert, key: l.Key, log: a.log}
	if err := pair.load(); err != nil {
		return nil, errors.Join(err, plain.Close())
	}
	return tls.NewListener(plain, &tls.Config{
		MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"}, GetCertificate: pair.current,
	}), nil
}

// keyPair is a certificate with its key, read again when one of the files has
// changed. While the new ones do not fit together the old ones serve.
type keyPair struct {
	cert, key string
	log       *slog.Logger

	mu    sync.Mutex
	pair  *tls.Certificate
	state [2]fileState
}

// fileState tells one state of a file from another.
type fileState struct {
	modified time.Time
	size     int64
}

func (k *keyPair) current(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	if err := k.load(); err != nil {
		k.log.Error("the certificate's files cannot be read; the one of before serves", "error", err)
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.pair, nil
}

func (k *keyPair) load() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	var now [2]fileState
	for i, file := range []string{k.cert, k.key} {
		info, err := os.Stat(file)
		if err != nil {
			return fmt.Errorf("certificate: %w", err)
		}
		now[i] = fileState{info.ModTime(), info.Size()}
	}
	if k.pair != nil && now == k.state {
		return nil
	}
	pair, err := tls.LoadX509KeyPair(k.cert, k.key)
	if err != nil {
		return fmt.Errorf("certificate: %w", err)
	}
	k.pair, k.state = &pair, now
	return nil
}
