package outcomes

import (
	"fmt"

	"dwellbook/internal/line"
)

// Evidence is how a hospital's lines of each site, and of each site and gauge,
// have lasted: for whoever is choosing.
type Evidence struct {
	Period line.Stretch
	sites  map[string]*Group
	both   map[string]*Group
}

// Gather works the evidence of the lines placed in a period out.
func Gather(courses []line.Course, period line.Stretch) (*Evidence, error) {
	e := &Evidence{Period: period}
	var err error
	if e.sites, err = gathered(courses, period, func(c line.Course) Name { return BySite.groupOf(c, Names{}) }); err != nil {
		return nil, err
	}
	e.both, err = gathered(courses, period, func(c line.Course) Name { return siteAndGauge(c.Site, c.Gauge) })
	return e, err
}

func siteAndGauge(s line.Site, g line.Gauge) Name {
	return Name{fmt.Sprintf("%s/%d", s, g), line.Say("outcomes.site-and-gauge", "site", s, "gauge", g)}
}

func gathered(courses []line.Course, period line.Stretch, groupOf func(line.Course) Name) (map[string]*Group, error) {
	c, err := follow(courses, Asked{Period: period}, groupOf)
	if err != nil {
		return nil, err
	}
	groups := map[string]*Group{}
	for i := range c.Groups {
		groups[c.Groups[i].ID] = &c.Groups[i]
	}
	return groups, nil
}

// OfSite says how lines of a site have lasted, or that there are too few to
// tell, for a table of sites.
func (e *Evidence) OfSite(s line.Site) line.Message {
	return lasted(e.sites[s.String()], coded(s), "outcomes.read.site")
}

// Of says how lines of a site and gauge have lasted, or that there are too few to
// tell.
func (e *Evidence) Of(s line.Site, g line.Gauge) line.Message {
	name := siteAndGauge(s, g)
	return lasted(e.both[name.ID], name, "outcomes.read.here")
}

// Lines is how many lines of a site there were.
func (e *Evidence) Lines(s line.Site) int {
	if g := e.sites[s.String()]; g != nil {
		return g.Lines
	}
	return 0
}

// lasted tells a group in one sentence.
func lasted(g *Group, name Name, key string) line.Message {
	if g == nil || !g.Tells() {
		n := 0
		if g != nil {
			n = g.Lines
		}
		return line.Say(key+"-few", "group", name.Label, "n", n)
	}
	l, ok := commonLevel([]Group{*g})
	if !ok {
		return line.Say(key+"-few", "group", name.Label, "n", g.Lines)
	}
	return l.tell(key, g)
}
