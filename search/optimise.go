package search

import "context"

// optimise returns the stops of the plan that finds soonest.
func optimise(ctx context.Context, p Problem, o Options, t *terra, agents []*agent) ([][]stop, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return pattern(p.Map, t, agents, Parallel), nil
}
