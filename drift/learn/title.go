package learn

import (
	"fmt"
	"slices"
	"strings"
)

// mostTitles is how many names, or flights in place of one, a row tells.
const mostTitles = 3

// memberTitle is what people call a member of a factor's pool.
func (p *Posterior) memberTitle(f *factor, group int) string {
	var sites []int
	for _, s := range f.slots {
		if s.group == group && !slices.Contains(sites, s.site) {
			sites = append(sites, s.site)
		}
	}
	if len(sites) == 0 {
		return f.groups[group] // measured on the ground alone
	}
	switch f.Pool {
	case "place":
		return p.title(sites, func(i int) string { return p.cases[i].PlaceTitle })
	case "device":
		return strings.TrimSuffix(f.Name, dragSuffix) + " of " + p.title(sites, p.vehicleTitle)
	}
	return p.title(sites, p.vehicleTitle)
}

// vehicleTitle is what people call the vehicle of a case, else the flight.
func (p *Posterior) vehicleTitle(i int) string {
	if t := p.cases[i].VehicleTitle; t != "" {
		return t
	}
	return p.cases[i].Flight
}

// title lists what sites are called, each name once; the first few.
func (p *Posterior) title(sites []int, of func(i int) string) string {
	var names []string
	for _, i := range sites {
		if t := of(i); t != "" && !slices.Contains(names, t) {
			names = append(names, t)
		}
	}
	if n := len(names) - mostTitles; n > 0 {
		names = append(names[:mostTitles], fmt.Sprintf("%d more", n))
	}
	return strings.Join(names, ", ")
}
