package app

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"slices"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"dwellbook/web"
)

// metrics are the figures by which whoever runs the product watches it. No
// label holds anything of a patient or a person: routes, methods and statuses
// alone.
type metrics struct {
	registry *prometheus.Registry
	requests *prometheus.CounterVec
	latency  *prometheus.HistogramVec
}

func newMetrics(a *App) *metrics {
	m := &metrics{
		registry: prometheus.NewRegistry(),
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "dwellbook_http_requests_total", Help: "Requests answered, by route, method and status.",
		}, []string{"route", "method", "code"}),
		latency: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "dwellbook_http_request_duration_seconds", Help: "Time to answer a request, by route; open streams apart.",
			Buckets: []float64{.005, .01, .025, .05, .1, .15, .25, .5, 1, 2.5, 10},
		}, []string{"route"}),
	}
	m.registry.MustRegister(m.requests, m.latency, state{a},
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

// methods are those that a label may name; a client can invent others.
var methods = []string{http.MethodGet, http.MethodHead, http.MethodPost}

func (m *metrics) observe(r web.Request) {
	if !slices.Contains(methods, r.Method) {
		r.Method = "other"
	}
	m.requests.WithLabelValues(r.Route, r.Method, fmt.Sprint(r.Status)).Inc()
	if !r.Stream {
		m.latency.WithLabelValues(r.Route).Observe(r.Took.Seconds())
	}
}

// state gives the figures that are read when they are asked for.
type state struct{ *App }

var (
	entriesTotal   = describe("entries_total", "Entries in the record.")
	recordSize     = describe("record_size_bytes", "Size of the record on disk, with its log.")
	writesWaiting  = describe("writes_waiting", "Acts of recording that wait for the disk, or are being written.")
	boardsOpen     = describe("boards_open", "Boards that are open on screens and wait for changes.")
	backupMoment   = describe("backup_last_success_timestamp_seconds", "When the newest checked copy of the record was made.")
	backupSize     = describe("backup_last_size_bytes", "Size of the newest checked copy of the record.")
	backupFailures = describe("backup_failures_total", "Copies that could not be made since the start.")
)

func describe(name, help string) *prometheus.Desc {
	return prometheus.NewDesc("dwellbook_"+name, help, nil, nil)
}

// Describe tells which figures there are.
func (s state) Describe(ch chan<- *prometheus.Desc) { prometheus.DescribeByCollect(s, ch) }

// Collect reads the figures. Those of copies are there where a folder is named.
func (s state) Collect(ch chan<- prometheus.Metric) {
	tell := func(d *prometheus.Desc, kind prometheus.ValueType, v float64, err error) {
		if err != nil {
			ch <- prometheus.NewInvalidMetric(d, err)
			return
		}
		ch <- prometheus.MustNewConstMetric(d, kind, v)
	}
	entries, err := s.store.LastSeq(context.Background())
	tell(entriesTotal, prometheus.CounterValue, float64(entries), err)
	size, err := s.store.Size()
	tell(recordSize, prometheus.GaugeValue, float64(size), err)
	tell(writesWaiting, prometheus.GaugeValue, float64(s.store.Waiting()), nil)
	tell(boardsOpen, prometheus.GaugeValue, float64(s.Desk.BoardsOpen()), nil)
	tell(backupFailures, prometheus.CounterValue, float64(s.keeper.failedTries()), nil)
	if last, ok := s.keeper.ask().Last(); ok {
		tell(backupMoment, prometheus.GaugeValue, float64(last.At.Unix()), nil)
		tell(backupSize, prometheus.GaugeValue, float64(last.Bytes), nil)
	}
}

// RunMetrics serves the figures on the listener until the context ends.
func (a *App) RunMetrics(ctx context.Context, l net.Listener) error {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", promhttp.HandlerFor(a.metrics.registry, promhttp.HandlerOpts{ErrorHandling: promhttp.ContinueOnError}))
	server := a.server(mux)
	stop := context.AfterFunc(ctx, func() { _ = server.Close() })
	defer stop()
	if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("serve figures on %s: %w", l.Addr(), err)
	}
	return nil
}

// ParseLoopback refuses an address that another machine could reach, as a
// [*Misuse]: the figures have no sign-in.
func ParseLoopback(addr string) (string, error) {
	host, _, err := net.SplitHostPort(addr)
	if ip := net.ParseIP(host); err != nil || host != "localhost" && !ip.IsLoopback() {
		return "", &Misuse{Text: fmt.Sprintf("-metrics-addr: %q is no address of this machine alone; an example: 127.0.0.1:9600", addr)}
	}
	return addr, nil
}
