"""Runs away from the nominal: every input of runs.json is a standard normal by the name of what it moves.

    python3 runs.py --write   flies the runs of runs.json and writes their numbers into it
    python3 runs.py --check   compares; exit 1 on a difference

The default spreads hold. The wind's random shape is left out: its covariance is checked by itself.
"""
import json
import math
import sys
from pathlib import Path

import yaml
from scipy.special import ndtr, ndtri

import flight
import flightfile
import truth
import truth

HERE = Path(__file__).parent
DEGREE = math.pi / 180


def truncated(z, sd, bound):
    low = ndtr(-bound / sd)
    return sd * ndtri(low + (1 - 2 * low) * ndtr(z))


def draw(f, outcome, z, drag_spread):
    def normal(name):
        return z.get(name, 0.0)
    kinds = [d.kind for d in f.devices]
    names = [k if kinds.count(k) == 1 else f"{k} {i + 1}" for i, k in enumerate(kinds)]
    d = flight.Draw(outcome=outcome)
    d.lean_in, d.lean_square = normal("rail lean along") * DEGREE, normal("rail lean across") * DEGREE
    d.impulse, d.mass = 1 + 0.03 * normal("motor impulse"), 1 + 0.01 * normal("lift-off mass")
    if f.delay > 0:
        d.delay = 1 + truncated(normal("ejection delay"), 0.1, max(0.2, 1.5 / f.delay))
    d.drag = math.exp(drag_spread * normal("body drag"))
    d.wavelength = math.exp(0.25 * normal("yaw wavelength"))
    d.cds = [math.exp(0.15 * normal(n + " drag area")) for n in names]
    d.opening = [math.exp(0.3 * normal(n + " opening delay")) for n in names]
    d.fill = [math.exp(0.3 * normal(n + " fill time")) for n in names]
    d.wind_scale, d.wind_turn = math.exp(0.15 * normal("wind speed")), 10 * DEGREE * normal("wind direction")
    d.tangled = 0.1 + 0.3 * ndtr(normal("tangled share"))
    return d


def fly(run):
    path = HERE / "cases" / run["case"] / "flight.yaml"
    f = flightfile.read(path)
    vehicle = yaml.safe_load(path.read_text())["vehicle"]
    guessed = not {"drag", "apogee"} & vehicle.keys()
    out = flight.Model(f).fly(draw(f, run["outcome"], run["z"], 0.25 if guessed else 0.1))
    names = ("rail_exit_mps", "apogee_m", "apogee_s", "landing_s", "landing_mps", "x", "y")
    return {n: round(getattr(out, n), 5) for n in names}


def main():
    runs = json.loads((HERE / "runs.json").read_text())
    found = []
    for run in runs:
        numbers = fly(run)
        if sys.argv[1:] == ["--check"]:
            found += [f"{run['case']} {run['outcome']}: {d}" for d in truth.differences(run["numbers"], numbers)]
        run["numbers"] = numbers
    if sys.argv[1:] == ["--write"]:
        lines = ",\n".join(json.dumps(r) for r in runs)
        (HERE / "runs.json").write_text(f"[\n{lines}\n]\n")
    print("\n".join(found) if found else f"{len(runs)} runs")
    sys.exit(1 if found else 0)


if __name__ == "__main__":
    main()
