package forecast

import "math"

// climate is what weather is like at each time of the year, by ten days, and which of it is known well enough to be used.
type climate struct {
	Use    [weathers]bool
	Usual  [weathers][tenths]float64
	Sway   float64 // standard deviation of the days' temperature about what is usual, °C
	Hot    float64 // the temperature that 85 % of the past days stayed below
	Hotter float64 // the hottest day seen
}

// tenths is the number of spans of ten days in a year.
const tenths = 37

func tenth(yearDay float64) int { return min(int(yearDay-1)/10, tenths-1) }

// learnClimate takes each day's mean over the series, and closes the gaps of all of them. What fewer than half of the days know
// is left out of the forecast.
func learnClimate(all []*series, last int) climate {
	c := climate{Hot: math.Inf(1), Hotter: math.Inf(1)}
	for w := range c.Use {
		day := make([]float64, last+1)
		var sum, count [tenths]float64
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
				k := tenth(all[0].yearDay[i])
				sum[k], count[k] = sum[k]+day[i], count[k]+1
			}
		}
		if known*2 < len(day) || known == 0 {
			continue
		}
		c.Use[w] = true
		c.Usual[w] = overYear(sum, count)
		if w != wTemp {
			continue
		}
		square := 0.0
		for i, x := range day {
			if !math.IsNaN(x) {
				e := x - c.Usual[w][tenth(all[0].yearDay[i])]
				square += e * e / float64(known)
			}
		}
		c.Sway = math.Sqrt(square)
		if known >= 100 {
			c.Hot, c.Hotter = hotEdge(day)
		}
	}
	c.close(all)
	return c
}

// overYear smooths over neighbouring spans; spans that no year has seen take the mean of all.
func overYear(sum, count [tenths]float64) (usual [tenths]float64) {
	total, n := 0.0, 0.0
	for k := range sum {
		total, n = total+sum[k], n+count[k]
	}
	for k := range usual {
		s, m := 0.0, 0.0
		for _, d := range []int{-1, 0, 1} {
			j := (k + d + tenths) % tenths
			s, m = s+sum[j], m+count[j]
		}
		usual[k] = total / n
		if m > 0 {
			usual[k] = s / m
		}
	}
	return usual
}

// close fills the gaps of weather: the mean of the other series' value that day, else what is usual then.
func (c *climate) close(all []*series) {
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
			fill := c.Usual[w][tenth(all[0].yearDay[i])]
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
