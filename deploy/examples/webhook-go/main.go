// A receiver of hotday's webhooks, signed as Standard Webhooks says: it checks the signature and its age, keeps each event once, and
// answers as soon as the event is on disk. What is to be done with events is done later, from the file.
//
//	HOTDAY_WEBHOOK_SECRET=whsec_… webhook-go 127.0.0.1:9000 events.jsonl
package main

import (
	"bufio"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"log"
	"net/http"
	"os"
	"strconv"
	"strings"
	"sync"
	"time"
)

const (
	maxAge  = 5 * time.Minute // of a signature, and how far ahead it may be
	maxBody = 1 << 20
)

// line is an event in the file.
type line struct {
	ID   string          `json:"id"`
	Body json.RawMessage `json:"body"`
}

// receiver keeps events in a file, a line each.
type receiver struct {
	key []byte

	mu   sync.Mutex // also keeps two deliveries of one event apart
	file *os.File
	seen map[string]bool
}

func main() {
	if len(os.Args) != 3 {
		log.Fatal("usage: webhook-go ADDRESS FILE")
	}
	key, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(os.Getenv("HOTDAY_WEBHOOK_SECRET"), "whsec_"))
	if err != nil || len(key) == 0 {
		log.Fatal("HOTDAY_WEBHOOK_SECRET is not a secret such as whsec_…")
	}
	r, err := open(os.Args[2], key)
	if err != nil {
		log.Fatal(err)
	}
	srv := &http.Server{Addr: os.Args[1], Handler: r, ReadTimeout: 10 * time.Second}
	log.Print("listening on ", os.Args[1])
	log.Fatal(srv.ListenAndServe())
}

// open opens the file and reads which events it has.
func open(name string, key []byte) (*receiver, error) {
	file, err := os.OpenFile(name, os.O_CREATE|os.O_RDWR|os.O_APPEND, 0o600)
	if err != nil {
		return nil, err
	}
	r := &receiver{key: key, file: file, seen: map[string]bool{}}
	lines := bufio.NewScanner(file)
	lines.Buffer(nil, 2*maxBody)
	for lines.Scan() {
		var l line
		if json.Unmarshal(lines.Bytes(), &l) == nil { // the last line may be half written
			r.seen[l.ID] = true
		}
	}
	return r, lines.Err()
}

func (r *receiver) ServeHTTP(w http.ResponseWriter, req *http.Request) {
	body, err := io.ReadAll(http.MaxBytesReader(w, req.Body, maxBody))
	if err != nil {
		http.Error(w, "cannot read the body", http.StatusBadRequest)
		return
	}
	id := req.Header.Get("webhook-id")
	if err := r.check(id, req.Header.Get("webhook-timestamp"), req.Header.Get("webhook-signature"), body, time.Now()); err != nil {
		http.Error(w, err.Error(), http.StatusUnauthorized)
		return
	}
	if err := r.keep(id, body); err != nil {
		log.Print(err)
		http.Error(w, "cannot store the event", http.StatusInternalServerError) // it is sent again
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

// check verifies a delivery: one of the signatures, separated by spaces, must be v1 and that of ID, timestamp and body.
func (r *receiver) check(id, timestamp, signatures string, body []byte, now time.Time) error {
	seconds, err := strconv.ParseInt(timestamp, 10, 64)
	if err != nil || id == "" {
		return fmt.Errorf("no webhook-id or webhook-timestamp")
	}
	if age := now.Sub(time.Unix(seconds, 0)); age > maxAge || age < -maxAge {
		return fmt.Errorf("the signature is of another time; check this machine's clock")
	}
	mac := hmac.New(sha256.New, r.key)
	fmt.Fprintf(mac, "%s.%s.%s", id, timestamp, body)
	want := mac.Sum(nil)
	for signature := range strings.FieldsSeq(signatures) {
		version, text, _ := strings.Cut(signature, ",")
		got, err := base64.StdEncoding.DecodeString(text)
		if err == nil && version == "v1" && hmac.Equal(got, want) { // takes as long whichever byte differs
			return nil
		}
	}
	return fmt.Errorf("no signature is valid")
}

// keep writes an event to disk unless it is there: attempts and replays of a delivery have the same ID.
func (r *receiver) keep(id string, body []byte) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.seen[id] {
		return nil
	}
	text, err := json.Marshal(line{id, body})
	if err != nil {
		return err
	}
	if _, err := r.file.Write(append(text, '\n')); err != nil {
		return err
	}
	if err := r.file.Sync(); err != nil {
		return err
	}
	r.seen[id] = true
	return nil
}
