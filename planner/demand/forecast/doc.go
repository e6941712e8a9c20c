// Package forecast turns a history of daily demand and the weather ahead into calibrated forecast distributions.
//
// Four learners share one set of features: weekday, season, weather, holidays, trend, and the recent level as known at the
// forecast origin. A Poisson regression with log link is shared by the series of a site, with shrunk deviations for each series.
// Gradient boosting over all series has the regression's mean among its features (stacking) and corrects its bias. Two quantile
// regression forests per series, one of them stacked, read quantiles off the most similar days. The learners are also fitted at
// earlier origins and backtested on the days after them: the errors there set each learner's dispersion and weight in the mixture
// of quantiles, and widen or narrow the result, hot days separately. No forecast uses data from after its origin.
//
// [Fit] learns from a whole history, [State.Update] from the days added since; [State.Predict] and [State.PredictWithBasis] forecast from the
// state alone. Everything is deterministic and independent of the order of rows, and demand may be counted in any unit.
//
// Censored demand: a day that was open, or on which the drink was on sale, for part of the usual time is scaled up to the whole
// of it and weighted by that part. Days of a named event are excluded from the learners' data; their effect is estimated
// separately and shrunk towards none. The next update learns from days of the history that were corrected.
//
// Cold start and extrapolation: a series without history borrows the mean of the others; a day hotter than any in the history is
// predicted at the highest temperature known and scaled by the regression. Both get wider ranges, and the basis calls them
// guesses.
//
// Tried on the open data and rejected, without effect or harmful: row subsampling for each boosted tree, other numbers of leaves,
// other decay rates, weights learnt from recent backtests more than from older ones, one forest for all series, forests of demand
// relative to its level, carrying over the residuals of the last days, and reading a holiday as another day in the trees and
// scaling by the regression.
//
// Sources: log-link regression by iteratively reweighted least squares, Hilbe, Negative Binomial Regression (2011, from memory);
// gradient boosting, Friedman, Annals of Statistics 29 (2001, from memory); quantile regression forests, Meinshausen, Journal of
// Machine Learning Research 7 (2006, from memory).
package forecast
