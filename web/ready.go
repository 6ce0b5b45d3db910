package web

import (
	"log/slog"
	"net/http"
)

// showReady answers what stands in front whether to send people here.
func (s *Server) showReady(w http.ResponseWriter, r *http.Request) {
	if s.ready != nil {
		if err := s.ready(r.Context()); err != nil {
			s.log.LogAttrs(r.Context(), slog.LevelWarn, "not ready", slog.String("id", requestID(r.Context())), slog.String("error", err.Error()))
			w.WriteHeader(http.StatusServiceUnavailable)
			return
		}
	}
	w.WriteHeader(http.StatusNoContent)
}
