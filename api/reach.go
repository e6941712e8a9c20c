package api

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"hotday/models"
)

// reachOrOwn is the site and the groups of a body. Where both are left out, they are the caller's own.
func reachOrOwn(site *string, groups []string, caller models.Token) (string, []string) {
	switch {
	case site != nil:
		return *site, groups
	case len(groups) > 0:
		return "", groups
	}
	return caller.Site, caller.Groups
}

// checkReach checks the site and the groups in a body. Those that do not exist and those out of the caller's reach give the same error.
func (s *Server) checkReach(ctx context.Context, caller models.Token, site string, groups []string) error {
	if site != "" || (len(groups) == 0 && !caller.Everywhere()) {
		if err := s.checkSiteInReach(ctx, caller, site, ""); err != nil {
			return err
		}
	}
	if len(groups) > models.MaxTokenGroups {
		return models.Invalid("/groups", "at most "+strconv.Itoa(models.MaxTokenGroups)+" groups", "there are %d", len(groups))
	}
	for i, g := range groups {
		_, err := s.Store.Group(ctx, g)
		if models.CodeOf(err) == models.CodeNotFound || (err == nil && !caller.Everywhere() && !slices.Contains(caller.Groups, g)) {
			return models.Invalid("/groups/"+strconv.Itoa(i), "the code of a group that you reach", "there is no group %q", g)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// sortedGroups is a list of groups in order, each once.
func sortedGroups(groups []string) []string {
	return slices.Compact(slices.Sorted(slices.Values(groups)))
}

// describeReach names where a token reaches, for errors.
func describeReach(t models.Token) string {
	var out []string
	if t.Site != "" {
		out = append(out, "site "+strconv.Quote(t.Site))
	}
	for _, g := range t.Groups {
		out = append(out, "group "+strconv.Quote(g))
	}
	if len(out) == 0 {
		return "the organisation"
	}
	return strings.Join(out, " and ")
}
