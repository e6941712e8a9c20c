package holidays

import (
	"github.com/rickar/cal/v2"
	"github.com/rickar/cal/v2/ar"
	"github.com/rickar/cal/v2/at"
	"github.com/rickar/cal/v2/au"
	"github.com/rickar/cal/v2/be"
	"github.com/rickar/cal/v2/bg"
	"github.com/rickar/cal/v2/br"
	"github.com/rickar/cal/v2/ca"
	"github.com/rickar/cal/v2/ch"
	"github.com/rickar/cal/v2/cz"
	"github.com/rickar/cal/v2/de"
	"github.com/rickar/cal/v2/dk"
	"github.com/rickar/cal/v2/es"
	"github.com/rickar/cal/v2/fr"
	"github.com/rickar/cal/v2/gb"
	"github.com/rickar/cal/v2/gr"
	"github.com/rickar/cal/v2/hr"
	"github.com/rickar/cal/v2/ie"
	"github.com/rickar/cal/v2/it"
	"github.com/rickar/cal/v2/jp"
	"github.com/rickar/cal/v2/lt"
	"github.com/rickar/cal/v2/lv"
	"github.com/rickar/cal/v2/mw"
	"github.com/rickar/cal/v2/nc"
	"github.com/rickar/cal/v2/nl"
	"github.com/rickar/cal/v2/no"
	"github.com/rickar/cal/v2/nz"
	"github.com/rickar/cal/v2/pl"
	"github.com/rickar/cal/v2/ro"
	"github.com/rickar/cal/v2/ru"
	"github.com/rickar/cal/v2/se"
	"github.com/rickar/cal/v2/si"
	"github.com/rickar/cal/v2/sk"
	"github.com/rickar/cal/v2/ua"
	"github.com/rickar/cal/v2/us"
	"github.com/rickar/cal/v2/za"
)

// calendars are the holidays of each country, by region; "" is the whole country. Countries have the codes of ISO 3166-1, regions those of
// ISO 3166-2 without the country.
var calendars = map[string]map[string][]*cal.Holiday{
	"AR": {"": ar.Holidays},
	"AT": {"": at.Holidays},
	"AU": {"ACT": au.HolidaysACT, "NSW": au.HolidaysNSW, "NT": au.HolidaysNT, "QLD": au.HolidaysQLD, "SA": au.HolidaysSA, "TAS": au.HolidaysTAS, "VIC": au.HolidaysVIC, "WA": au.HolidaysWA},
	"BE": {"": be.Holidays},
	"BG": {"": bg.Holidays},
	"BR": {"": br.Holidays},
	"CA": {"": ca.Holidays},
	"CH": {"": ch.Holidays, "AG": ch.HolidaysAG, "AI": ch.HolidaysAI, "AR": ch.HolidaysAR, "BE": ch.HolidaysBE, "BL": ch.HolidaysBL, "BS": ch.HolidaysBS, "FR": ch.HolidaysFR, "GE": ch.HolidaysGE, "GL": ch.HolidaysGL, "GR": ch.HolidaysGR, "JU": ch.HolidaysJU, "LU": ch.HolidaysLU, "NE": ch.HolidaysNE, "NW": ch.HolidaysNW, "OW": ch.HolidaysOW, "SG": ch.HolidaysSG, "SH": ch.HolidaysSH, "SO": ch.HolidaysSO, "SZ": ch.HolidaysSZ, "TG": ch.HolidaysTG, "TI": ch.HolidaysTI, "UR": ch.HolidaysUR, "VD": ch.HolidaysVD, "VS": ch.HolidaysVS, "ZG": ch.HolidaysZG, "ZH": ch.HolidaysZH},
	"CZ": {"": cz.Holidays},
	"DE": {"": de.Holidays, "BB": de.HolidaysBB, "BE": de.HolidaysBE, "BW": de.HolidaysBW, "BY": de.HolidaysBY, "HB": de.HolidaysHB, "HE": de.HolidaysHE, "HH": de.HolidaysHH, "MV": de.HolidaysMV, "NI": de.HolidaysNI, "NW": de.HolidaysNW, "RP": de.HolidaysRP, "SH": de.HolidaysSH, "SL": de.HolidaysSL, "SN": de.HolidaysSN, "ST": de.HolidaysST, "TH": de.HolidaysTH},
	"DK": {"": dk.Holidays},
	"ES": {"": es.Holidays},
	"FR": {"": fr.Holidays},
	"GB": {"": gb.Holidays},
	"GR": {"": gr.Holidays},
	"HR": {"": hr.Holidays},
	"IE": {"": ie.Holidays},
	"IT": {"": it.Holidays},
	"JP": {"": jp.Holidays},
	"LT": {"": lt.Holidays},
	"LV": {"": lv.Holidays},
	"MW": {"": mw.Holidays},
	"NC": {"": nc.Holidays},
	"NL": {"": nl.Holidays},
	"NO": {"": no.Holidays},
	"NZ": {"": nz.Holidays},
	"PL": {"": pl.Holidays},
	"RO": {"": ro.Holidays},
	"RU": {"": ru.Holidays},
	"SE": {"": se.Holidays},
	"SI": {"": si.Holidays},
	"SK": {"": sk.Holidays},
	"UA": {"": ua.Holidays},
	"US": {"": us.Holidays},
	"ZA": {"": za.Holidays},
}
