package api

import (
	"cmp"
	"strconv"

	"hotday/models"
)

// Most is how many of each there can be: for each site, and as many for the whole organisation. The contract has a table of them.
type Most struct {
	Tokens, People, Screens, Webhooks int // for each site; 0: 200, 200, 100, 50
	Sites, Groups                     int // 0: 1,000 each
	Connections                       int // open connections; 0: 4,000
	ConnectionsOfOne                  int // from one address that is not a trusted proxy's; 0: 1,000
}

func (m Most) withDefaults() Most {
	return Most{Tokens: cmp.Or(m.Tokens, 200), People: cmp.Or(m.People, 200), Screens: cmp.Or(m.Screens, 100), Webhooks: cmp.Or(m.Webhooks, 50), Sites: cmp.Or(m.Sites, 1000), Groups: cmp.Or(m.Groups, 1000),
		Connections: cmp.Or(m.Connections, 4000), ConnectionsOfOne: cmp.Or(m.ConnectionsOfOne, 1000)}
}

// roomFor returns an error if one more of a site's would be too many. all and err are the answer of the store; siteOf returns the site of
// one, and false if it does not count.
func roomFor[T any](most int, what, site string, all []T, err error, siteOf func(T) (site string, counts bool)) error {
	if err != nil {
		return err
	}
	n := 0
	for _, x := range all {
		if at, counts := siteOf(x); counts && at == site {
			n++
		}
	}
	if n < most {
		return nil
	}
	of := ""
	if site != "" {
		of = " of site " + strconv.Quote(site)
	}
	return models.Errorf(models.CodeLimitReached, "there are %d %s%s, the most there can be; remove one first", n, what, of)
}
