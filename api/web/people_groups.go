package web

import (
	"cmp"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// groupsShown is how many groups the access page offers; the API has all.
const groupsShown = 100

// loadGroups reads the groups that the caller may give to others and, for those who may change them, their sites.
func (v *peopleView) loadGroups(c *gin.Context, p *pages, caller models.Token) error {
	ctx := c.Request.Context()
	var among []string
	if !v.WholeOrg {
		among = append([]string{}, caller.Groups...)
	}
	list, err := p.Store.Groups(ctx, among, models.Page{Limit: groupsShown})
	if err != nil {
		return err
	}
	for _, g := range list.Rows {
		line := groupLine{Code: g.Code, Name: g.Name, Count: v.voice.Say("people.groups.count", "n", g.Sites)}
		if v.WholeOrg {
			whole, err := p.Store.Group(ctx, g.Code)
			if err != nil {
				return err
			}
			line.Sites = strings.Join(whole.Sites, " ")
		}
		v.Groups = append(v.Groups, line)
	}
	return nil
}

// groupName is the name of a group, or its code where the caller does not know it.
func (v *peopleView) groupName(code string) string {
	at := slices.IndexFunc(v.Groups, func(g groupLine) bool { return g.Code == code })
	if at < 0 {
		return code
	}
	return cmp.Or(v.Groups[at].Name, code)
}
