package forecast

import "math"

// climate is the usual weather by ten-day span of the year, and which weather variables are known well enough to be used.
type climate struct {
	Use    [weatherVars]bool
	Usual  [weatherVars][tenDaySpans]float64
	Sway   float64 // standard deviation of the daily temperature about the usual, °C
	Hot    float64 // 85 % quantile of the daily temperature, °C
	Hotter float64 // highest temperature known, °C
}

// tenDaySpans is the number of ten-day spans in a year.
const tenDaySpans = 37

func tenDaySpan(yearDay float64) int { return min(int(yearDay-1)/10, tenDaySpans-1) }

// learnClimate takes each day's mean over the series, and fills the gaps of all series. A variable that is known on fewer than
// half of the days is not used.
func learnClimate(all []*series, last int) climate {
	c := climate{Hot: math.Inf(1), Hotter: math.Inf(1)}
	for w := range c.Use {
		day := make([]float64, last+1)
		var sum, count [tenDaySpans]float64
		known := 0
		for i := range day {
			s, n := 0.0, 0.0
			for _, one := range all {
				if x := one.weather[w][i]; !math.IsNaN(x) {
					s, n = s+x, n+1
				}
			}
			day[i] = s / n
			if n > 0 {
				known++
				k := tenDaySpan(all[0].yearDay[i])
				sum[k], count[k] = sum[k]+day[i], count[k]+1
			}
		}
		if known*2 < len(day) || known == 0 {
			continue
		}
		c.Use[w] = true
		c.Usual[w] = smoothYear(sum, count)
		if w != wTemp {
			continue
		}
		square := 0.0
		for i, x := range day {
			if !math.IsNaN(x) {
				e := x - c.Usual[w][tenDaySpan(all[0].yearDay[i])]
				square += e * e / float64(known)
			}
		}
		c.Sway = math.Sqrt(square)
		if known >= 100 {
			c.Hot, c.Hotter = hotThreshold(day)
		}
	}
	c.fillGaps(all)
	return c
}

// smoothYear averages neighbouring spans; a span without data has the overall mean.
func smoothYear(sum, count [tenDaySpans]float64) (usual [tenDaySpans]float64) {
	total, n := 0.0, 0.0
	for k := range sum {
		total, n = total+sum[k], n+count[k]
	}
	for k := range usual {
		s, m := 0.0, 0.0
		for _, d := range []int{-1, 0, 1} {
			j := (k + d + tenDaySpans) % tenDaySpans
			s, m = s+sum[j], m+count[j]
		}
		usual[k] = total / n
		if m > 0 {
			usual[k] = s / m
		}
	}
	return usual
}

// fillGaps fills in missing weather with the mean of the other series on that day, else the usual of the season.
func (c *climate) fillGaps(all []*series) {
	if len(all) == 0 {
		return
	}
	for w := range c.Use {
		if !c.Use[w] {
			continue
		}
		for i := range all[0].y {
			sum, n := 0.0, 0.0
			for _, s := range all {
				if x := s.weather[w][i]; !math.IsNaN(x) {
					sum, n = sum+x, n+1
				}
			}
			if int(n) == len(all) {
				continue
			}
			fill := c.Usual[w][tenDaySpan(all[0].yearDay[i])]
			if n > 0 {
				fill = sum / n
			}
			for _, s := range all {
				if math.IsNaN(s.weather[w][i]) {
					s.weather[w][i] = fill
				}
			}
		}
	}
}
