// A till that posts sales to hotday and loses none: each count is on disk before it is sent, and sent again with the same Idempotency-Key
// until the service has answered.
//
//	till-go add ITEM WINDOW_START WINDOW_END COUNT
//	till-go send                                    sends what is there, oldest first, until all is taken
//
// HOTDAY_URL, HOTDAY_SITE, HOTDAY_KEY; HOTDAY_SOURCE (till-1) and SPOOL (spool) if they are others.
package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"log"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
)

const longestWait = 5 * time.Minute

// hopeless are statuses with which the same will never be taken.
var hopeless = []int{http.StatusBadRequest, http.StatusConflict, http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType, http.StatusUnprocessableEntity}

type (
	salesPost struct {
		Source string  `json:"source"`
		Counts []count `json:"counts"`
	}
	count struct {
		Item  string  `json:"item"`
		Start string  `json:"window_start"`
		End   string  `json:"window_end"`
		Count float64 `json:"count"`
	}
)

func main() {
	log.SetFlags(0)
	spool := cmp.Or(os.Getenv("SPOOL"), "spool")
	err := os.MkdirAll(filepath.Join(spool, "refused"), 0o700)
	switch {
	case err != nil:
	case len(os.Args) == 6 && os.Args[1] == "add":
		err = add(spool, os.Args[2:])
	case len(os.Args) == 2 && os.Args[1] == "send":
		err = send(spool)
	default:
		log.Fatal("usage: till-go add ITEM WINDOW_START WINDOW_END COUNT | till-go send")
	}
	if err != nil {
		log.Fatal(err)
	}
}

// add returns once the count is on disk.
func add(spool string, args []string) error {
	n, err := strconv.ParseFloat(args[3], 64)
	if err != nil {
		return fmt.Errorf("%q is not a number", args[3])
	}
	post, err := json.Marshal(salesPost{cmp.Or(os.Getenv("HOTDAY_SOURCE"), "till-1"), []count{{args[0], args[1], args[2], n}}})
	if err != nil {
		return err
	}
	name := filepath.Join(spool, fmt.Sprintf("%d-%d", time.Now().UnixNano(), os.Getpid()))
	if err := os.WriteFile(name+".part", post, 0o600); err != nil {
		return err
	}
	if err := sync(name + ".part"); err != nil {
		return err
	}
	if err := os.Rename(name+".part", name+".json"); err != nil {
		return err
	}
	return sync(spool)
}

// sync waits until a file or a folder's list of names is on disk.
func sync(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	return f.Sync()
}

func send(spool string) error {
	files, err := filepath.Glob(filepath.Join(spool, "*.json"))
	if err != nil {
		return err
	}
	slices.Sort(files)
	wait := time.Second
	for _, file := range files {
		for {
			status, after, answer, err := post(file)
			if err != nil {
				return err
			}
			if status == http.StatusOK {
				if err := os.Remove(file); err != nil {
					return err
				}
				wait = time.Second
				break
			}
			if slices.Contains(hopeless, status) { // keep it for a person, with the reason
				refused := filepath.Join(spool, "refused", filepath.Base(file))
				if err := os.WriteFile(refused+".why", answer, 0o600); err != nil {
					return err
				}
				if err := os.Rename(file, refused); err != nil {
					return err
				}
				break
			}
			if after == 0 {
				after = wait/2 + rand.N(wait/2)
			}
			time.Sleep(after)
			wait = min(2*wait, longestWait)
		}
	}
	return nil
}

var client = &http.Client{Timeout: 30 * time.Second}

// post sends one file and returns the status, 0 if nothing answered, the Retry-After, 0 without, and the answer.
func post(file string) (status int, after time.Duration, answer []byte, err error) {
	body, err := os.ReadFile(file)
	if err != nil {
		return 0, 0, nil, err
	}
	req, err := http.NewRequest(http.MethodPost, os.Getenv("HOTDAY_URL")+"/v1/sites/"+url.PathEscape(os.Getenv("HOTDAY_SITE"))+"/sales-counts", bytes.NewReader(body))
	if err != nil {
		return 0, 0, nil, err
	}
	req.Header.Set("Authorization", "Bearer "+os.Getenv("HOTDAY_KEY"))
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("Idempotency-Key", strings.TrimSuffix(filepath.Base(file), ".json"))
	res, err := client.Do(req)
	if err != nil {
		return 0, 0, nil, nil //nolint:nilerr // no network, no answer, a broken connection: try again
	}
	defer res.Body.Close()
	answer, err = io.ReadAll(res.Body)
	if err != nil {
		return 0, 0, nil, nil //nolint:nilerr // as above
	}
	seconds, _ := strconv.Atoi(res.Header.Get("Retry-After"))
	return res.StatusCode, time.Duration(seconds) * time.Second, answer, nil
}
