package models

import (
	"context"
	"slices"
)

// Group is a set of sites, such as a region or a franchise. A token or person that names it reaches the sites that it has at that time.
type Group struct {
	Code  string   `json:"code"`
	Name  string   `json:"name"`
	Sites []string `json:"sites"` // codes, in order
}

// GroupHead is a group's entry in a list.
type GroupHead struct {
	Code  string `json:"code"`
	Name  string `json:"name"`
	Sites int    `json:"sites"` // how many
}

// The most groups that a token or person can name, and the most sites of a group.
const (
	MaxTokenGroups = 20
	MaxGroupSites  = 10000
)

// ValidGroupCode reports whether a group can have a code: the rule of new sites' codes.
func ValidGroupCode(code string) bool { return ValidSiteCode(code) }

// GroupStore stores groups of sites.
type GroupStore interface {
	// PutGroup stores a group, replacing its name and sites. CodeInvalid for a site that does not exist.
	PutGroup(ctx context.Context, g Group) (created bool, err error)
	Group(ctx context.Context, code string) (Group, error)
	// Groups returns groups by code: all of them or, if among is not nil, those with these codes.
	Groups(ctx context.Context, among []string, p Page) (Rows[GroupHead], error)
	// DropGroup deletes a group; CodeConflict while a token or person that is not revoked names it.
	DropGroup(ctx context.Context, code string) error
}

// Everywhere reports whether the token is for the whole organisation.
func (t Token) Everywhere() bool { return t.Site == "" && len(t.Groups) == 0 }

// Covers reports whether the token reaches a site: as its own, through one of its groups, or as one of the whole organisation.
func (t Token) Covers(site string) bool {
	if t.Everywhere() {
		return true
	}
	if site == "" {
		return false
	}
	_, inGroup := slices.BinarySearch(t.groupSites, site)
	return inGroup || site == t.Site
}

// Reaches reports whether the token reaches all that somebody with a site and groups can reach. Without either that is the whole
// organisation.
func (t Token) Reaches(site string, groups []string) bool {
	switch {
	case t.Everywhere():
		return true
	case site == "" && len(groups) == 0, site != "" && !t.Covers(site):
		return false
	}
	return !slices.ContainsFunc(groups, func(g string) bool { return !slices.Contains(t.Groups, g) })
}

// Sites returns the sites that the token reaches, in order; nil: all of the organisation.
func (t Token) Sites() []string {
	if t.Everywhere() {
		return nil
	}
	out := slices.Clone(t.groupSites)
	if at, found := slices.BinarySearch(out, t.Site); t.Site != "" && !found {
		out = slices.Insert(out, at, t.Site)
	}
	return append([]string{}, out...)
}

// WithGroupSites is the token with the sites of its groups, in order.
func (t Token) WithGroupSites(sites []string) Token {
	t.groupSites = sites
	return t
}
