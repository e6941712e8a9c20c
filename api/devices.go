package api

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"
)

// A device on which a person has signed in with the password keeps a cookie that proves it. Wrong passwords from elsewhere do not lock it
// out, and its own attempts are counted by themselves. The cookie is signed with the hash of the password, which the store keeps secret
// and which has a random salt: a new password ends it, and nothing more is stored. It grants nothing else.
const (
	deviceCookie   = "hotday_device"
	deviceLifetime = 400 * 24 * time.Hour // browsers cap cookies at 400 days
	maxDevices     = 5                    // people who share a browser
)

// deviceMark is the text "id.until.signature"; a cookie has several, with | between them.
func deviceMark(id, until, person, passwordHash string) string {
	mac := hmac.New(sha256.New, []byte(passwordHash))
	mac.Write([]byte("hotday device\x00" + id + "\x00" + until + "\x00" + person))
	return id + "." + until + "." + hex.EncodeToString(mac.Sum(nil))
}

// knownDevice returns the ID of the request's device if the person has signed in with it, with the password that is still theirs.
func (s *Server) knownDevice(c *gin.Context, person, passwordHash string) (id string, ok bool) {
	if passwordHash == "" {
		return "", false
	}
	for _, mark := range s.deviceMarks(c) {
		id, rest, _ := strings.Cut(mark, ".")
		until, _, _ := strings.Cut(rest, ".")
		at, err := strconv.ParseInt(until, 10, 64)
		if err == nil && s.Now().Unix() < at && hmac.Equal([]byte(mark), []byte(deviceMark(id, until, person, passwordHash))) {
			return id, true
		}
	}
	return "", false
}

func (s *Server) deviceMarks(c *gin.Context) []string {
	value, err := c.Cookie(s.cookieName(c, deviceCookie))
	if err != nil || value == "" {
		return nil
	}
	list := strings.Split(value, "|")
	return list[:min(len(list), maxDevices)]
}

// rememberDevice sets the cookie after a sign-in.
func (s *Server) rememberDevice(c *gin.Context, person, passwordHash string) {
	id, known := s.knownDevice(c, person, passwordHash)
	if !known {
		id = rand.Text()
	}
	until := strconv.FormatInt(s.Now().Add(deviceLifetime).Unix(), 10)
	marks := []string{deviceMark(id, until, person, passwordHash)}
	for _, mark := range s.deviceMarks(c) {
		if !strings.HasPrefix(mark, id+".") {
			marks = append(marks, mark)
		}
	}
	http.SetCookie(c.Writer, &http.Cookie{Name: s.cookieName(c, deviceCookie), Value: strings.Join(marks[:min(len(marks), maxDevices)], "|"), Path: "/", MaxAge: int(deviceLifetime.Seconds()),
		HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: s.clientOf(c).https})
}
