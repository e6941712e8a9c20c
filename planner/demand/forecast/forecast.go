package forecast

import "context"

// Forecast answers a document, which must be valid. ctx only cancels.
func Forecast(ctx context.Context, d Document) (Answer, error) {
	st, err := Fit(ctx, d.History)
	if err != nil {
		return Answer{}, err
	}
	return st.Predict(d.Ahead, d.Levels), nil
}
