package drift

import (
	"bufio"
	"context"
	"fmt"
	"io"
)

// WriteCSV writes one landing a row: degrees, m of the cloud's frame, weight
// (they sum to 1), outcome, and seconds after ignition. It returns ctx.Err()
// when ctx ends first.
func (c *Cloud) WriteCSV(ctx context.Context, w io.Writer) error {
	b := bufio.NewWriter(w)
	b.WriteString("lat,lon,east_m,north_m,weight,outcome,landing_s\n")
	total := 0.0
	for _, x := range c.Weights {
		total += x
	}
	weight := 1 / float64(len(c.Landings))
	for i := range c.Landings {
		if i%4096 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		l := &c.Landings[i]
		if c.Weights != nil {
			weight = c.Weights[i] / total
		}
		p := c.Frame.ToLonLat(l.At)
		if _, err := fmt.Fprintf(b, "%.8f,%.8f,%.3f,%.3f,%.8g,%s,%.3f\n", p.Lat(), p.Lon(), l.At.X, l.At.Y, weight,
			c.Outcomes[l.Outcome].Name, l.LandingS); err != nil {
			return err
		}
	}
	return b.Flush()
}
