package web

import (
	"bytes"
	"fmt"
	"net/http"
	"sync"

	"github.com/a-h/templ"
	"github.com/go-chi/chi/v5"

	"dwellbook/internal/desk"
	"dwellbook/internal/line"
	"dwellbook/internal/words"
	"dwellbook/web/view"
)

// boardCache keeps each ward's board as it was last drawn, until something on
// the ward changes or the minute passes.
type boardCache struct {
	mu   sync.Mutex
	kept map[drawnKey]drawn
}

type drawnKey struct {
	ward     line.ID
	byBed    bool
	language string // tag
}

type drawn struct {
	version uint64
	at      line.Minute
	board   *desk.Board
	region  []byte
}

func newBoardCache() *boardCache { return &boardCache{kept: map[drawnKey]drawn{}} }

func (c *boardCache) get(k drawnKey, version uint64, at line.Minute) (drawn, bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	d, ok := c.kept[k]
	return d, ok && d.version == version && d.at == at
}

// put keeps a board; there are at most two for each ward and language.
func (c *boardCache) put(k drawnKey, d drawn) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.kept[k] = d
}

func (s *Server) showBoard(w http.ResponseWriter, r *http.Request) error {
	h, err := s.desk.House(r.Context())
	if err != nil {
		return err
	}
	k := drawnKey{ward: line.ID(chi.URLParam(r, "ward")), byBed: r.URL.Query().Get("order") == "bed", language: words.To(r.Context()).Language.Tag()}
	ward, _ := h.Ward(k.ward)
	d, ok := s.boards.get(k, s.desk.WardVersion(ward.Key), s.desk.Now())
	if !ok {
		if d, err = s.draw(r, k); err != nil {
			return err
		}
	}
	ctx := words.With(r.Context(), words.Speaker{Zone: d.board.Ward.Location, Now: d.board.At})
	r = r.WithContext(ctx)
	page := view.WardBoard{Shell: s.shell(r, d.board.Ward.Name), Board: d.board, ByBed: k.byBed, Region: templ.Raw(string(d.region)),
		Notice: s.takeNotice(r)}
	return s.show(w, r, http.StatusOK, view.WardBoardPage(page))
}

func (s *Server) draw(r *http.Request, k drawnKey) (drawn, error) {
	b, err := s.desk.Board(r.Context(), personOf(r), k.ward)
	if err != nil {
		return drawn{}, err
	}
	ctx := words.With(r.Context(), words.Speaker{Zone: b.Ward.Location, Now: b.At})
	var region bytes.Buffer
	if err := view.BoardRegion(b, k.byBed).Render(ctx, &region); err != nil {
		return drawn{}, fmt.Errorf("draw board of %s: %w", b.Ward.Name, err)
	}
	d := drawn{version: b.Version, at: b.At, board: b, region: region.Bytes()}
	s.boards.put(k, d)
	return d, nil
}
