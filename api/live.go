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
	liveBatch    = 200              // events read at once
	liveDeadline = 20 * time.Second // for one write: a screen that takes none for so long is cut off and comes again
)

// liveBeat is heard by the script of a page, as a comment would not be: what it shows is still true.
var liveBeat = []byte("event: beat\ndata: {}\n\n")

// getLive streams what happens at a site as server-sent events: the event's name is its kind, its data the whole
// models.LiveEvent. Between them an event "beat" without an id says that the line holds. A screen that comes with the id of the last event it saw (Last-Event-ID) gets all since; one without starts
// now, with a "hello" event whose id is where it stands, so that it can be away from then on.
func (s *Server) getLive(c *gin.Context) error {
	q := params(c, "last_event_id")
	ctx, site := c.Request.Context(), c.Param("site")
	last, err := s.Store.LastEventID(ctx, site)
	if err != nil {
		return err
	}
	at, given, err := lastSeen(c)
	if err != nil {
		return err
	}
	if err := q.err(); err != nil {
		return err
	}
	if !given || at > last { // an id from the future is of another database: start anew
		at = last
	}
	token, _ := current(c)
	ended, done := s.ended.watch(token.ID, cmp.Or(c.GetString(sessionIDKey), token.ID))
	defer done()
	st := &stream{s: s, c: c, site: site, token: token, ended: ended, rc: http.NewResponseController(c.Writer), at: at}
	if !st.allowed() { // revoked between the request's check and the watch
		return models.Errorf(models.CodeUnauthorised, "this token was revoked")
	}
	h := c.Writer.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no") // a proxy that collects answers would hold the events back
	c.Status(http.StatusOK)
	if err := st.hello(); err != nil {
		return nil //nolint:nilerr // the screen is gone, nobody is left to tell
	}
	st.run()
	return nil
}

// lastSeen reads the id from the header that browsers send when they come again, or from the address for a first request.
func lastSeen(c *gin.Context) (id int64, given bool, err error) {
	raw := c.GetHeader("Last-Event-ID")
	if raw == "" {
		raw = c.Query("last_event_id")
	}
	if raw == "" {
		return 0, false, nil
	}
	id, err = strconv.ParseInt(raw, 10, 64)
	if err != nil || id < 0 {
		return 0, false, &models.Error{Code: models.CodeMalformed, Message: "the Last-Event-ID cannot be read",
			Fields: []models.FieldError{{Pointer: "/last_event_id", Detail: strconv.Quote(raw) + " is no id of an event", Accepted: "a whole number, 0 or more"}}}
	}
	return id, true, nil
}

// stream is one screen that listens.
type stream struct {
	s     *Server
	c     *gin.Context
	rc    *http.ResponseController
	site  string
	token models.Token
	ended <-chan struct{}
	at    int64 // id of the last event sent
}

// run sends events until the screen, its token or the server goes.
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
			if !st.allowed() || st.write(liveBeat) != nil {
				return
			}
		case <-st.ended:
			return
		case <-st.s.closing:
			return
		case <-st.c.Request.Context().Done():
			return
		}
	}
}

// allowed asks again whether the token holds, so that a revoked screen goes dark.
func (st *stream) allowed() bool {
	t, err := st.s.Store.TokenByID(st.c.Request.Context(), st.token.ID)
	if err != nil || t.RevokedAt != nil {
		return false
	}
	st.s.present(st.c, t, st.s.Now())
	return true
}

func (st *stream) hello() error {
	return st.write(fmt.Appendf(nil, "retry: 3000\nid: %d\nevent: hello\ndata: {\"id\":%d}\n\n", st.at, st.at))
}

// send writes all events since the last one sent, and returns a channel that is closed once there may be more.
func (st *stream) send() (<-chan struct{}, error) {
	for {
		frames, changed, err := st.s.feeds.after(st.c.Request.Context(), st.site, st.at)
		if err != nil || len(frames) == 0 {
			return changed, err
		}
		for _, f := range frames {
			if err := st.write(f.text); err != nil {
				return nil, err
			}
			st.at = f.id
		}
	}
}

func (st *stream) write(text []byte) error {
	_ = st.rc.SetWriteDeadline(time.Now().Add(liveDeadline)) // not every writer can; then there is none
	if _, err := st.c.Writer.Write(text); err != nil {
		return err
	}
	return st.rc.Flush()
}
