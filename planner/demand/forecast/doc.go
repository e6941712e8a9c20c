// Package forecast turns the past of daily demand and the weather ahead into honest ranges.
//
// Four learners see the same features. A log-link regression (pooled over the series of a site, then each series' own
// deviations, shrunk) knows weekday, season, trend, temperature with bends, rain, humidity, holidays and the recent level. A
// boosted ensemble of small trees over all series starts from it and finds what it bends wrongly. Two quantile forests a series
// read ranges off the most similar days. Each is forecast again from earlier origins without what came after; how well each did
// there weighs its quantiles in the mixture and widens or narrows the result, hot days apart. Nothing looks at a day before it
// is forecast.
//
// Sources: negative binomial regression by iteratively reweighted least squares, Hilbe, Negative Binomial Regression (2011, from
// memory); gradient boosting, Friedman, Annals of Statistics 29 (2001, from memory); quantile regression forests, Meinshausen,
// Journal of Machine Learning Research 7 (2006, from memory).
package forecast
