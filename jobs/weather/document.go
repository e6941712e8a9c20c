package weather

import (
	"context"
	"math"
	"net/url"

	"hotday/jobs/outside"
	"hotday/models"
)

// document is the body of PUT …/weather at an address of the site's own.
type document struct{ url string }

func (d document) fetch(ctx context.Context, a *ask) (models.WeatherPost, error) {
	u, err := url.Parse(d.url)
	if err != nil {
		return models.WeatherPost{}, &failure{problem: models.FetchUnreachable}
	}
	if err := outside.CheckHost(u, a.c.OutsideHosts); err != nil {
		return models.WeatherPost{}, err
	}
	body, err := a.get(ctx, a.c.Public, d.url, true)
	if err != nil {
		return models.WeatherPost{}, err
	}
	var post models.WeatherPost
	if models.DecodeStrict(body, &post) != nil || post.Validate() != nil || len(post.Hours) == 0 {
		return models.WeatherPost{}, errUnreadable
	}
	return post, nil
}

// tenth rounds to 0.1.
func tenth(x float64) float64 { return math.Round(10*x) / 10 }
