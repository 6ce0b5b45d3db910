// Package static holds the files a browser fetches once and keeps: the
// stylesheet, the script, the typeface with its licence. They stand inside the
// binary; nothing comes from outside.
//
// A file is asked for under a name that carries a part of its content's hash
// ([URL]), so it may be kept for a year and still never be stale.
package static

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"mime"
	"net/http"
	"path"
	"slices"
	"strings"
)

//go:embed *.css *.js *.woff2 *.txt *.svg
var files embed.FS

// Prefix is the path under which [Handler] must be mounted.
const Prefix = "/static/"

// asset is one file as served: packed already when that makes it smaller.
type asset struct {
	kind   string // content type
	hash   string // first 12 hex digits of the SHA-256 of body
	body   []byte
	packed []byte // gzip of body, nil where it does not pay (the typeface)
}

var assets = load()

// load reads and packs every embedded file. A file that cannot be read or
// packed is a fault in the build, so it panics at start.
func load() map[string]asset {
	entries, err := files.ReadDir(".")
	if err != nil {
		panic(fmt.Sprintf("static: %v", err))
	}
	found := make(map[string]asset, len(entries))
	for _, entry := range entries {
		body, err := files.ReadFile(entry.Name())
		if err != nil {
			panic(fmt.Sprintf("static: %v", err))
		}
		found[entry.Name()] = newAsset(entry.Name(), body)
	}
	// The stylesheet names the typeface by its hashed address, so that the
	// browser keeps that as long as everything else.
	for name, a := range found {
		if path.Ext(name) != ".css" {
			continue
		}
		css := string(a.body)
		for other := range found {
			css = strings.ReplaceAll(css, `url("`+other+`")`, `url("`+address(other, found[other].hash)+`")`)
		}
		found[name] = newAsset(name, []byte(css))
	}
	return found
}

func newAsset(name string, body []byte) asset {
	sum := sha256.Sum256(body)
	return asset{
		kind:   contentType(name),
		hash:   hex.EncodeToString(sum[:6]),
		body:   body,
		packed: pack(body),
	}
}

// contentType does not ask the machine's own tables where they are known to differ.
func contentType(name string) string {
	switch ext := path.Ext(name); ext {
	case ".woff2":
		return "font/woff2"
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".css":
		return "text/css; charset=utf-8"
	case ".txt":
		return "text/plain; charset=utf-8"
	case ".svg":
		return "image/svg+xml"
	default:
		return mime.TypeByExtension(ext)
	}
}

// pack returns body in gzip, or nil where that saves less than a tenth.
func pack(body []byte) []byte {
	var out bytes.Buffer
	w, err := gzip.NewWriterLevel(&out, gzip.BestCompression)
	if err != nil {
		panic(fmt.Sprintf("static: %v", err))
	}
	// Writing to a bytes.Buffer does not fail.
	_, _ = w.Write(body)
	_ = w.Close()
	if out.Len() > len(body)*9/10 {
		return nil
	}
	return out.Bytes()
}

// URL is the address of the file called name, with its content's hash. It
// panics for a name that is not embedded: a page that points nowhere is a bug.
func URL(name string) string {
	a, ok := assets[name]
	if !ok {
		panic("static: no file " + name)
	}
	return address(name, a.hash)
}

func address(name, hash string) string { return Prefix + name + "?v=" + hash }

// URLs are the addresses of all files that pages ask for.
func URLs() []string {
	var all []string
	for name := range assets {
		if asked := path.Ext(name) != ".txt" && name != "worker.js" && name != "seal.js"; asked {
			all = append(all, URL(name))
		}
	}
	slices.Sort(all)
	return all
}

// Handler serves the embedded files under [Prefix]. A request that carries the
// right hash may be kept for a year; one without it is checked each time.
func Handler() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			w.Header().Set("Allow", "GET, HEAD")
			http.Error(w, http.StatusText(http.StatusMethodNotAllowed), http.StatusMethodNotAllowed)
			return
		}
		a, ok := assets[strings.TrimPrefix(r.URL.Path, Prefix)]
		if !ok {
			http.NotFound(w, r)
			return
		}
		serve(w, r, a)
	})
}

func serve(w http.ResponseWriter, r *http.Request, a asset) {
	head := w.Header()
	head.Set("Content-Type", a.kind)
	head.Set("X-Content-Type-Options", "nosniff")
	head.Set("Vary", "Accept-Encoding")
	if r.URL.Query().Get("v") == a.hash {
		head.Set("Cache-Control", "public, max-age=31536000, immutable")
	} else {
		head.Set("Cache-Control", "no-cache")
	}

	body, etag := a.body, `"`+a.hash+`"`
	if a.packed != nil && acceptsGzip(r.Header.Get("Accept-Encoding")) {
		head.Set("Content-Encoding", "gzip")
		body, etag = a.packed, `"`+a.hash+`-gzip"`
	}
	head.Set("ETag", etag)
	if r.Header.Get("If-None-Match") == etag {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	head.Set("Content-Length", fmt.Sprint(len(body)))
	if r.Method == http.MethodHead {
		return
	}
	// A reader that went away is not the server's error.
	_, _ = w.Write(body)
}

// acceptsGzip reads an Accept-Encoding header (RFC 9110, 12.5.3): gzip is
// wanted when it is named with a weight that is not nil.
func acceptsGzip(header string) bool {
	for part := range strings.SplitSeq(header, ",") {
		coding, params, _ := strings.Cut(strings.TrimSpace(part), ";")
		if strings.TrimSpace(coding) != "gzip" {
			continue
		}
		weight, found := strings.CutPrefix(strings.ReplaceAll(params, " ", ""), "q=")
		return !found || strings.Trim(weight, "0.") != ""
	}
	return false
}

// Text is a file's content, for a page that must stand alone.
func Text(name string) string { return string(assets[name].body) }
