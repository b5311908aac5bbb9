"""The cloud of landings of six cases: every spread, outcome and wind shape of the model.

Runs are flown side by side in NumPy by fourth-order steps whose length follows each run, events
found by secant; --verify flies some of the same runs through flight.py (DOP853) and prints the
largest difference.

    python3 montecarlo.py            writes montecarlo.json
    python3 montecarlo.py --verify   compares a few runs of each outcome with flight.py
"""
import json
import math
import sys
import time
from pathlib import Path

import numpy as np

import around
import batch
import flight
import flightfile
from quantities import quantity

HERE = Path(__file__).parent
CASES = ["dual-release-3km", "ejection-rising", "levels-many", "spread-set", "terrain-hills",
         "weathercock-strongest"]
RUNS, CHUNK, SEED, BOOTSTRAPS = 20000, 10000, 20260314, 300

# Default spreads: standard deviations (of the logarithm where the distribution is log-normal).
SPREAD = {"lean": math.radians(1), "impulse": 0.03, "delay": 0.10, "drag": 0.10, "wavelength": 0.25, "mass": 0.01,
          "cds": 0.15, "opening": 0.30, "wind_speed": 0.15, "wind_direction": math.radians(10)}
OUTCOMES = {"nominal": 0.87, "late opening": 0.05, "tangled": 0.04, "no recovery": 0.03, "early opening": 0.01}
DELAY_RELATIVE, DELAY_SECONDS = 0.20, 1.5     # drawn again beyond the greater of the two
SHAPE_STEP, SHAPE_LENGTH = around.STEP, 400.0  # m


def spreads(f):
    s = dict(SPREAD)
    for key, text in f.spread.items():
        s[key] = quantity(text, "angle" if key in ("lean", "wind_direction") else "fraction")
    return s


def chances(f):
    if f.outcomes:
        return f.outcomes
    o = dict(OUTCOMES)
    if len(f.devices) == 2:
        o["main at apogee"] = 0.03
        o["nominal"] -= 0.03
    return o


def draw(f, top, n, rng):
    """n runs as arrays; shape is (runs, nodes) for heights 0, STEP, ... up to top."""
    s, k = spreads(f), len(f.devices)
    z = rng.standard_normal
    o = chances(f)
    names = list(o)
    outcome = np.array(names)[rng.choice(len(names), n, p=np.array(list(o.values())) / sum(o.values()))]
    delay = np.ones(n)
    if f.delay > 0:
        limit = max(DELAY_RELATIVE, DELAY_SECONDS / f.delay)
        delay = z(n) * s["delay"]
        while (bad := np.abs(delay) > limit).any():
            delay[bad] = z(bad.sum()) * s["delay"]
        delay += 1
    nodes = int(top / SHAPE_STEP) + 2
    keep = math.exp(-SHAPE_STEP / SHAPE_LENGTH)
    sd = np.minimum(0.5 + np.arange(nodes) * SHAPE_STEP / 1000, 2.5)
    shape = z((2, nodes, n))
    for i in range(1, nodes):
        shape[:, i] = keep * shape[:, i - 1] + math.sqrt(1 - keep**2) * shape[:, i]
    shape = np.ascontiguousarray((shape * sd[:, None]).transpose(0, 2, 1))
    return batch.Draws(
        lean_in=s["lean"] * z(n), lean_square=s["lean"] * z(n), impulse=1 + s["impulse"] * z(n), delay=delay,
        drag=np.exp(s["drag"] * z(n)), wavelength=np.exp(s["wavelength"] * z(n)), mass=1 + s["mass"] * z(n),
        cds=np.exp(s["cds"] * z((k, n))), opening=np.exp(s["opening"] * z((k, n))),
        fill=np.exp(s["opening"] * z((k, n))), wind_scale=np.exp(s["wind_speed"] * z(n)),
        wind_turn=s["wind_direction"] * z(n), shape_u=shape[0], shape_v=shape[1], outcome=outcome,
        tangled=rng.uniform(0.1, 0.4, n))


def one(d, i):
    """Run i of the draws for flight.py."""
    return flight.Draw(
        lean_in=d.lean_in[i], lean_square=d.lean_square[i], impulse=d.impulse[i], delay=d.delay[i], drag=d.drag[i],
        wavelength=d.wavelength[i], mass=d.mass[i], cds=list(d.cds[:, i]), opening=list(d.opening[:, i]),
        fill=list(d.fill[:, i]), wind_scale=d.wind_scale[i], wind_turn=d.wind_turn[i],
        shape=(SHAPE_STEP, list(d.shape_u[i]), list(d.shape_v[i])), outcome=d.outcome[i], tangled=d.tangled[i])


def moments(p, rng):
    """Mean, covariance and one-sigma semi-axes of points (n, 2), each with its bootstrap error."""
    n = len(p)

    def of(w):
        m = w @ p / w.sum()
        c = (p - m).T @ ((p - m) * w[:, None]) / w.sum()
        return m, c, np.sqrt(np.linalg.eigvalsh(c)[::-1])
    m, c, axes = of(np.ones(n))
    boots = [of(np.bincount(rng.integers(0, n, n), minlength=n).astype(float)) for _ in range(BOOTSTRAPS)]
    r = lambda a: [round(float(v), 4) for v in np.asarray(a).ravel()]  # noqa: E731
    return {"runs": n, "mean_m": r(m), "mean_se_m": r(np.std([b[0] for b in boots], axis=0)),
            "covariance_m2": r(c), "semi_axes_m": r(axes),
            "semi_axes_se_m": r(np.std([b[2] for b in boots], axis=0))}


def prepare(name, seed):
    f = flightfile.read(HERE / "cases" / name / "flight.yaml")
    model = flight.Model(f)
    top = 1.5 * model.fly().apogee_m + 300
    return f, model, top, [np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(1 + RUNS // CHUNK)]


def cloud(name, seed):
    f, model, top, streams = prepare(name, seed)
    points, outcomes = [], []
    for rng in streams[1:]:
        d = draw(f, top, CHUNK, rng)
        r = batch.Batch(model, d).fly()
        points.append(np.column_stack([r.x, r.y]))
        outcomes.append(d.outcome)
    points, outcomes = np.concatenate(points), np.concatenate(outcomes)
    out = {"all": moments(points, streams[0])}
    for o in chances(f):
        out[o] = moments(points[outcomes == o], streams[0])
    return out


def verify(name, seed, each=4):
    f, model, top, streams = prepare(name, seed)
    d = draw(f, top, CHUNK, streams[1])
    r = batch.Batch(model, d).fly()
    worst, count, start = {}, 0, time.process_time()
    for o in chances(f):
        for i in np.flatnonzero(d.outcome == o)[:each]:
            truth, count = model.fly(one(d, i)), count + 1
            for key in ("x", "y", "apogee_m", "landing_s", "landing_mps"):
                gap = abs(getattr(truth, key) - getattr(r, key)[i])
                worst[key] = max(worst.get(key, 0.0), float(gap))
    seconds = (time.process_time() - start) / count
    print(f"{name}: {count} runs of {seconds:.2f} s in flight.py, largest difference " + ", ".join(f"{k} {v:.4f}" for k, v in worst.items()),
          flush=True)


def main():
    if sys.argv[1:] == ["--verify"]:
        for i, name in enumerate(CASES):
            verify(name, SEED + i)
        return
    result = {}
    for i, name in enumerate(CASES):
        start = time.process_time()
        result[name] = cloud(name, SEED + i)
        print(f"{name}: {RUNS} runs in {time.process_time() - start:.0f} s", flush=True)
    (HERE / "montecarlo.json").write_text(json.dumps(result, indent=1) + "\n")


if __name__ == "__main__":
    main()
