// Package replay relives a season day by day: what the planner would have had the kitchen make from what was known on the
// evening before, against the usual par sheet and against perfect foresight, each lived with the demand that came.
//
// Each day's sheet is made when the shop closes on the day before. The methods differ only in the demand they are told:
//
//   - the plan: the forecast from all days before, with the weather forecast as it was known then (the day's own weather where
//     no forecast was kept);
//   - the par sheet: for each drink and day part the average of the last four same weekdays, and a fifth more on a day above
//     28 °C;
//   - perfect foresight: the demand that came.
//
// [Replanned] is the plan made anew every other hour of opening from what has sold and what stands in the kitchen.
//
// Batches are laid out by the same [planner.ComputeWith] for all of them, so that the par sheet is as well timed as it can be. Ice
// makers run whenever they may and the bin is not full. The plan and foresight fill ice forms as their sheets say; the kitchen
// with the par sheet fills a form whenever it is empty and somebody is there.
//
// What a day costs is the objective of the batch schedule on the demand that came: the batches' own cost, the coffee in them,
// ageing, disposal, and the contribution of the drinks missed times the site's short_factor. The coffee of the drinks that were
// asked for is the same whatever the method; [Figures.Cost] leaves it out (so a batch's coffee costs where it is poured away) and
// [Figures.Total] has it in. Stock left when the season ends is worth its coffee.
//
// Beans and treated water are taken as bought in. Apart from Replanned nobody changes the sheet during the day.
package replay
