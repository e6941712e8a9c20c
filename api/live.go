package api

import (
	"cmp"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

const (
	liveBatch        = 200              // events read per query
	liveWriteTimeout = 20 * time.Second // per write; a slower client is disconnected and reconnects
)

// heartbeatEvent is an event, since page scripts cannot see SSE comments; it tells them that their data is current.
var heartbeatEvent = []byte("event: beat\ndata: {}\n\n")

// getLive streams a site's live events as server-sent events: the event name is the kind, the data is the models.LiveEvent. A "beat"
// event without an ID is the heartbeat. The first event is "hello", whose ID is the stream's position: the client's Last-Event-ID if
// it sent one, and all later events follow; else the newest event.
func (s *Server) getLive(c *gin.Context) error {
	q := params(c, "last_event_id")
	ctx, site := c.Request.Context(), c.Param("site")
	last, err := s.Store.LastEventID(ctx, site)
	if err != nil {
		return err
	}
	at, given, err := lastEventID(c)
	if err != nil {
		return err
	}
	if err := q.err(); err != nil {
		return err
	}
	if !given || at > last { // an ID beyond the newest is from another database: start over
		at = last
	}
	closed, err := s.reserve(c, &s.budgets.streams, 1)
	if err != nil {
		return err
	}
	defer closed()
	token, _ := callerToken(c)
	revoked, done := s.streams.watch(token.ID, cmp.Or(c.GetString(sessionIDKey), token.ID))
	defer done()
	st := &stream{s: s, c: c, site: site, token: token, revoked: revoked, rc: http.NewResponseController(c.Writer), lastID: at}
	if !st.authorised() { // revoked between authentication and watch
		return models.Errorf(models.CodeUnauthorised, "this token was revoked")
	}
	_ = st.rc.SetReadDeadline(time.Time{}) // else the read timeout of requests would end the stream
	defer s.Measures.StreamOpened()()
	h := c.Writer.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no") // keeps proxies from buffering the events
	c.Status(http.StatusOK)
	if err := st.hello(); err != nil {
		return nil //nolint:nilerr // the client has disconnected
	}
	st.run()
	return nil
}

// lastEventID reads the ID from the header that browsers send when they reconnect, or from the query for a first request.
func lastEventID(c *gin.Context) (id int64, given bool, err error) {
	raw := c.GetHeader("Last-Event-ID")
	if raw == "" {
		raw = c.Query("last_event_id")
	}
	if raw == "" {
		return 0, false, nil
	}
	id, err = strconv.ParseInt(raw, 10, 64)
	if err != nil || id < 0 {
		return 0, false, &models.Error{Code: models.CodeMalformed, Message: "the Last-Event-ID is not valid",
			Fields: []models.FieldError{{Pointer: "/last_event_id", Detail: strconv.Quote(raw) + " is not an event ID", Accepted: "a whole number, 0 or more"}}}
	}
	return id, true, nil
}

// stream is one open live stream.
type stream struct {
	s       *Server
	c       *gin.Context
	rc      *http.ResponseController
	site    string
	token   models.Token
	revoked <-chan struct{}
	lastID  int64 // ID of the last event sent
}

// run sends events until the client disconnects, its token is revoked or the server shuts down.
func (st *stream) run() {
	beat := time.NewTicker(st.s.Heartbeat)
	defer beat.Stop()
	for {
		changed, err := st.send()
		if err != nil {
			return
		}
		select {
		case <-changed:
		case <-beat.C:
			if !st.authorised() || st.write(heartbeatEvent) != nil {
				return
			}
		case <-st.revoked:
			return
		case <-st.s.closing:
			return
		case <-st.c.Request.Context().Done():
			return
		}
	}
}

// authorised checks again that the token is not revoked and still reaches the site, and that the session is open: another replica may have
// ended it.
func (st *stream) authorised() bool {
	t, err := st.s.Store.TokenByID(st.c.Request.Context(), st.token.ID)
	if err != nil || !t.May(models.ScopeRead, st.site) {
		return false
	}
	if id := st.c.GetString(sessionIDKey); id != "" {
		if open, err := st.s.Sessions.SessionOpen(st.c.Request.Context(), t.ID, id); err != nil || !open {
			return false
		}
	}
	st.s.recordSeen(st.c, t, st.s.Now())
	return true
}

func (st *stream) hello() error {
	return st.write(fmt.Appendf(nil, "retry: 3000\nid: %d\nevent: hello\ndata: {\"id\":%d}\n\n", st.lastID, st.lastID))
}

// send writes the events after lastID and returns a channel that is closed when there may be more.
func (st *stream) send() (<-chan struct{}, error) {
	for {
		frames, changed, err := st.s.feeds.after(st.c.Request.Context(), st.site, st.lastID)
		if err != nil || len(frames) == 0 {
			return changed, err
		}
		for _, f := range frames {
			if err := st.write(f.text); err != nil {
				return nil, err
			}
			st.lastID = f.id
		}
	}
}

func (st *stream) write(text []byte) error {
	_ = st.rc.SetWriteDeadline(time.Now().Add(liveWriteTimeout)) // best effort: not every writer supports it
	if _, err := st.c.Writer.Write(text); err != nil {
		return err
	}
	return st.rc.Flush()
}
