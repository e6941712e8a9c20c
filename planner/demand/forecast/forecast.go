package forecast

import (
	"context"

	"hotday/models"
)

// Forecast answers a document, which must be valid. ctx only cancels.
func Forecast(ctx context.Context, d Document) (Answer, error) {
	st, err := Fit(ctx, d.History)
	if err != nil {
		return Answer{}, err
	}
	return st.Ahead(d.Ahead, d.Levels), nil
}

// Calc parses and answers the document of `hotday calc forecast`.
func Calc(body []byte) (any, error) {
	d, err := Parse(body)
	if err != nil {
		return nil, err
	}
	a, err := Forecast(context.Background(), d)
	if err != nil {
		return nil, models.Errorf(models.CodeInternal, "%v", err)
	}
	return a, nil
}
