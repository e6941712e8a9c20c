// Package forecast turns the past of daily demand and the weather ahead into honest ranges.
//
// Four learners see the same features: weekday, season, weather, holidays, trend, and the recent level as known at the origin. A
// log-link regression is shared by the series of a site; each series deviates from it, shrunk. A boosted ensemble of small trees
// over all series has the regression's mean among its features and finds what that bends wrongly. Two quantile forests a series,
// one of them with the regression's mean, read ranges off the most similar days. Each learner is fitted again at earlier origins
// without what came after and tried on the days that followed: how well it did there sets its spread and its weight in the mixture
// of quantiles, and widens or narrows the result, hot days apart. Nothing looks at a day before it is forecast.
//
// [Fit] learns from a whole past, [State.Update] from the day that was added to it, [State.Ahead] and [State.Live] forecast from
// the state alone. Everything is deterministic, the order of rows does not matter, and demand may be counted in any unit.
//
// A day that was open, or on which the thing was on sale, for a part of the usual time counts as what it would have been in all of it,
// with that part's weight. Days of a named event are taken out of what is usual; their effect is learnt apart and drawn to none. A day
// of the past that says otherwise than it did is learnt anew the next night.
//
// Beyond what was seen: a series without days borrows the mean of the others, a day hotter than any is read as the hottest and
// then moved as the regression moves, and both are widened and said to be guesses.
//
// Tried on the open data and left out, since it changed nothing or harmed: rows drawn anew for each boosted tree, trees with other
// numbers of leaves, forgetting faster or slower, weights learnt from the newest trials more than from older ones, one forest for
// all series, forests of demand relative to its level, residuals of the last days carried on, and a holiday read by the trees as
// another day and moved as the regression moves.
//
// Sources: log-link regression by iteratively reweighted least squares, Hilbe, Negative Binomial Regression (2011, from memory);
// gradient boosting, Friedman, Annals of Statistics 29 (2001, from memory); quantile regression forests, Meinshausen, Journal of
// Machine Learning Research 7 (2006, from memory).
package forecast
