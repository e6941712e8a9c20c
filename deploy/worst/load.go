package main

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"sync"
	"time"
)

const atOnce = 12 // requests of one key

// everydayWork is what must go on: a manager's sum, a till's counts, and a sign-in from a browser that has signed in before.
func (s *shop) everydayWork(ctx context.Context, t *tally) {
	var wg sync.WaitGroup
	every := func(d time.Duration, name string, x func(i int) call) {
		wg.Go(func() {
			c := client("127.0.0.1")
			for i := 0; ctx.Err() == nil; i++ {
				s.timed(ctx, c, t, name, x(i))
				pause(ctx, d)
			}
		})
	}
	every(50*time.Millisecond, "quick sum", func(int) call {
		return call{"POST", "/v1/calc/heat-index", s.manager, "", []byte(`{"temp_c":32,"humidity_pct":60}`)}
	})
	every(20*time.Millisecond, "counts", func(i int) call {
		at := time.Now().Add(-time.Hour * time.Duration(1+i)).UTC().Truncate(time.Hour)
		body := fmt.Appendf(nil, `{"source":"till","counts":[{"item":"A","window_start":%q,"window_end":%q,"count":%d}]}`, at.Format(time.RFC3339), at.Add(time.Hour).Format(time.RFC3339), i)
		return call{"POST", s.site + "/sales-counts", s.till, "", body}
	})
	every(500*time.Millisecond, "sign-in, known browser", func(int) call { return s.signIn("ada", password) })
	wg.Wait()
}

// crowd runs do as often as it can, with so many at once for each of the keys.
func crowd(ctx context.Context, keys []string, n int, do func(c *http.Client, key string)) {
	var wg sync.WaitGroup
	for _, key := range keys {
		for range n {
			wg.Go(func() {
				c := client("127.0.0.2")
				for ctx.Err() == nil {
					do(c, key)
				}
			})
		}
	}
	wg.Wait()
}

// sums are previews of 14 days, forecasts of long histories, and quick sums without a pause.
func sums(ctx context.Context, s *shop, t *tally) {
	history := history(2000)
	crowd(ctx, append(s.others, s.screens...), atOnce, func(c *http.Client, key string) {
		switch rand.IntN(4) {
		case 0, 1:
			s.timed(ctx, c, t, "preview", call{"POST", "/v1/plan-previews", key, "", s.preview})
		case 2:
			s.timed(ctx, c, t, "forecast", call{"POST", "/v1/calc/forecast", key, "", history})
		default:
			s.timed(ctx, c, t, "ice shares", call{"POST", "/v1/calc/ice-shares", key, "", []byte(`{"ratio":14.6,"brewer_out_temp_c":82,"ice_temp_c":-4,"target_temp_c":7}`)})
		}
	})
}

func history(days int) []byte {
	var b bytes.Buffer
	b.WriteString(`{"history":[`)
	day := time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC)
	for i := range days {
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, `{"date":%q,"open":true,"holiday":false,"demand":%d}`, day.AddDate(0, 0, i).Format(time.DateOnly), 20+i%50)
	}
	fmt.Fprintf(&b, `],"ahead":[{"date":%q,"open":true,"holiday":false}],"levels":[0.1,0.5,0.9]}`, day.AddDate(0, 0, days).Format(time.DateOnly))
	return b.Bytes()
}

// passwords are 100 parallel guesses for the person's name and for others, from ten addresses.
func passwords(ctx context.Context, s *shop, t *tally) {
	var wg sync.WaitGroup
	for i := range 100 {
		wg.Go(func() {
			c := client(fmt.Sprintf("127.0.0.%d", 10+i%10))
			for n := 0; ctx.Err() == nil; n++ {
				name := "ada"
				if i%2 == 1 {
					name = fmt.Sprintf("guess%d-%d", i, n)
				}
				s.timed(ctx, c, t, "guess", call{"POST", "/v1/session", "", "", fmt.Appendf(nil, `{"sign_in":%q,"password":"a wrong guess %d"}`, name, n)})
			}
		})
	}
	wg.Wait()
}

// bodies are 16 MiB of {} items, and less where that is refused unread, to the routes that take large bodies.
func bodies(ctx context.Context, s *shop, t *tally) {
	const mib = 1 << 20
	filled := func(size int, before, item, after string) []byte {
		n := (size - len(before) - len(after)) / (len(item) + 1)
		rows := bytes.Repeat([]byte(item+","), n)
		return append(append([]byte(before), rows[:len(rows)-1]...), after...)
	}
	var posts []call
	for _, size := range []int{16 * mib, 4 * mib, 2 * mib} {
		posts = append(posts,
			call{"POST", "/v1/plan-previews", "", "", filled(size, `{"brewers":[`, `{}`, `]}`)},
			call{"POST", "/v1/calc/forecast", "", "", filled(size, `{"levels":[0.5],"ahead":[],"history":[`, `{"date":"2020-01-01","open":true,"holiday":false,"demand":1}`, `]}`)},
			call{"POST", "/v1/calc/lot-size", "", "", filled(size, `{"setup":[1],"holding":[1],"demand":[`, `0`, `]}`)},
			call{"POST", "/v1/calc/water", "", "", filled(size, `{"salts":[`, `""`, `]}`)},
			call{"PUT", s.site + "/setup", "", "", filled(size, `{"drinks":[`, `{}`, `]}`)},
			call{"POST", s.site + "/sales-files?source=book", "", "", filled(size, ``, `{}`, ``)},
			call{"POST", s.site + "/sales-counts", "", "", filled(size, `{"counts":[`, `{}`, `]}`)})
	}
	crowd(ctx, append(s.others, s.screens...), 3, func(c *http.Client, key string) {
		x := posts[rand.IntN(len(posts))]
		x.token = key
		s.timed(ctx, c, t, x.path, x)
	})
}
