package main

import "windfall/cmd/windfall/internal/outdir"

func (k *comparison) figures(set *outdir.Set) error { return nil }
