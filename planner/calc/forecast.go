package calc

import (
	"context"

	"hotday/models"
	"hotday/planner/demand/forecast"
	"hotday/planner/say"
)

type forecastOut struct {
	Rows  []forecast.Day `json:"rows"`
	Notes []string       `json:"notes"`
}

// calcForecast forecasts the days ahead of a history.
func calcForecast(ctx context.Context, v say.Voice, body []byte) (any, error) {
	d, err := forecast.Parse(body)
	if err != nil {
		return nil, err
	}
	a, err := forecast.Forecast(ctx, d)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil {
		return nil, models.Errorf(models.CodeInternal, "%v", err)
	}
	out := forecastOut{Rows: a.Rows, Notes: []string{}}
	for _, n := range a.Notes {
		out.Notes = append(out.Notes, v.ForecastNote(n))
	}
	return out, nil
}
