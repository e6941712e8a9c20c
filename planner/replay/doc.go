// Package replay simulates a season day by day with the demand that came, and compares the planner, with the data of the evening
// before, with the par sheet and with perfect foresight.
//
// Each day's sheet is made when the shop closes the day before. The methods differ only in their demand:
//
//   - the plan: the forecast from all days before, with the weather forecast of that evening (the actual weather if no forecast
//     was kept);
//   - the par sheet: for each drink and day part the average of the last four same weekdays, plus 20 % on a day above 28 °C;
//   - perfect foresight: the demand that came.
//
// A [Policy] is a method at a setting: the par sheet times a cushion, the plan at a service level, or the plan in a changed shop. Each runs
// a kitchen of its own, and is a point in the plane of coffee poured away against drinks missed. The yardstick is [Result.BestPar], the
// cushion that turns out to cost least over the season.
//
// [Replanned] replans every two hours of opening from the sales so far and the stock in the kitchen.
//
// All methods schedule their batches with [planner.ComputeWith], so that the par sheet is as well timed as it can be. Ice
// machines run whenever they may and the bin is not full. The plan and foresight fill ice moulds as their sheets say; with the
// par sheet the kitchen refills every empty mould whenever somebody is there.
//
// The cost of a day is the objective of the batch schedule on the demand that came: batch costs, the coffee in the batches, ageing,
// disposal, and the lost contribution of missed drinks, without tax, times the site's factor for their cause, a beverage or ice. The
// coffee in the drinks that were asked for is the same for all methods; [Figures.Cost] excludes it, so that a batch's coffee counts only
// when poured away, and [Figures.Total] includes it. Stock left at the end of the season is valued at its coffee.
//
// Beans and treated water are assumed to be bought in. Except for Replanned the sheet does not change during the day.
package replay
