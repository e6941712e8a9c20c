// Package places finds the coordinates of a town by its name, without a network.
//
// The table has the places of the world with at least 30,000 people: name, country, state in some countries, latitude and longitude,
// largest first. It is an extract of GeoNames (geonames.org), licensed under CC BY 4.0 (creativecommons.org/licenses/by/4.0), reduced to
// these columns and rows and rounded to 0.001°; Attribution is shown where it is used. subset.mjs made it.
package places

import (
	"bufio"
	"bytes"
	"compress/gzip"
	_ "embed"
	"fmt"
	"strconv"
	"strings"
	"sync"

	"hotday/models"
)

// Attribution names the table's source and licence, as that asks for.
const Attribution = "GeoNames (geonames.org), CC BY 4.0"

//go:embed places.tsv.gz
var packed []byte

// Place is a town. State is empty except in Australia, Canada and the United States.
type Place struct {
	Name, Country, State string // Country: ISO 3166-1
	Latitude, Longitude  float64
}

// String is the place as people write it: "Springfield, IL, US".
func (p Place) String() string {
	if p.State != "" {
		return p.Name + ", " + p.State + ", " + p.Country
	}
	return p.Name + ", " + p.Country
}

type entry struct {
	Place
	folded string // String in lower case without accents
}

// table unpacks the places at first use: most shops are set up once.
var table = sync.OnceValue(func() []entry {
	var out []entry
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		panic(err) // a bug in the build
	}
	lines := bufio.NewScanner(z)
	for lines.Scan() {
		p, err := parse(lines.Text())
		if err != nil {
			panic(err)
		}
		out = append(out, entry{p, models.Folded(p.String())})
	}
	if err := lines.Err(); err != nil {
		panic(err)
	}
	return out
})

func parse(line string) (p Place, err error) {
	f := strings.Split(line, "\t")
	if len(f) != 5 {
		return p, fmt.Errorf("place %q: %d columns", line, len(f))
	}
	p = Place{Name: f[0], Country: f[1], State: f[2]}
	if p.Latitude, err = strconv.ParseFloat(f[3], 64); err != nil {
		return p, err
	}
	p.Longitude, err = strconv.ParseFloat(f[4], 64)
	return p, err
}

// Find returns up to most places whose name, as in Place.String, begins with text: those of a country first, if one is given, then the
// largest.
func Find(text, country string, most int) (out []Place) {
	text = strings.Join(strings.Fields(models.Folded(text)), " ")
	if text == "" {
		return nil
	}
	for _, home := range []bool{true, false} {
		for i := range table() {
			e := &table()[i]
			if len(out) == most {
				return out
			}
			if (e.Country == country) == home && strings.HasPrefix(e.folded, text) {
				out = append(out, e.Place)
			}
		}
	}
	return out
}
