package say

import (
	"slices"
	"strings"

	"hotday/models"
)

// StationName is the name of a station as a heading: trays and machines whose ice is only for baths say so.
func (v Voice) StationName(station string, ice *models.Ice) string {
	return v.station(station, ice, "ice.station_bath")
}

// StationMark is StationName in little room: the lanes of a picture.
func (v Voice) StationMark(station string, ice *models.Ice) string {
	return v.station(station, ice, "ice.lane_bath")
}

// Place is the name of a station that is not a machine or trays of the set-up, such as "cold store", in the language of the site; any
// other name stays as it is.
func (v Voice) Place(station string) string {
	if key := "station." + strings.ReplaceAll(station, " ", "_"); v.Has(key) {
		return v.Say(key)
	}
	return station
}

func (v Voice) station(station string, ice *models.Ice, key string) string {
	bath := slices.ContainsFunc(ice.Moulds, func(m models.MouldSet) bool { return m.Code == station && !m.Treated }) ||
		slices.ContainsFunc(ice.Makers, func(m models.IceMaker) bool { return m.Code == station && !m.Treated })
	if !bath {
		return v.Place(station)
	}
	return v.Say(key, "station", station)
}
