"""Thirty flights drawn at random over wide ranges, from a fixed seed, with their truth.

    python3 random_flights.py           writes random/ and random.json
    python3 random_flights.py --check   flies random/ again and compares with random.json

Flights that cannot fly are drawn again. All are inventions.
"""
import json
import math
import random
import shutil
import sys
import tempfile
from pathlib import Path

import flight
import truth
from quantities import UNITS

HERE = Path(__file__).parent
SEED, COUNT = 4711, 30


class Writer:
    """Writes one flight; every quantity in a unit of its own choice."""

    def __init__(self, rng):
        self.r, self.files = rng, {}

    def log(self, low, high):
        return math.exp(self.r.uniform(math.log(low), math.log(high)))

    def q(self, value, kind):
        sizes = {u: k for u, k in UNITS[kind].items() if u not in ("nmi", "mi", "kN s", "mm2", "rad") or kind == "angle"}
        unit = self.r.choice(sorted(sizes))
        return f"{value / sizes[unit]:.6g} {unit}"

    def table(self, name, head, rows):
        self.files[name] = "\n".join([head, *(f"{a:.4g},{b:.4g}" for a, b in rows)]) + "\n"
        return name

    def motor(self, mass):
        r = self.r
        impulse = mass * self.log(40, 600)
        burn = max(impulse / (mass * 9.8 * r.uniform(5, 25)), 0.15)
        if r.random() < 0.2:
            letter = "ABCDEFGHIJKLMNO"[max(0, math.ceil(math.log2(impulse / 2.5)))]
            top = 2.5 * 2 ** "ABCDEFGHIJKLMNO".index(letter)
            m = {"designation": f"{letter}{math.ceil(top * 0.75 / burn)}-{r.randint(3, 14)}"}
            return m, burn
        m = {"propellant": self.q(min(impulse * self.log(0.45, 0.8) / 1000, 0.6 * mass), "mass")}
        if r.random() < 0.3:
            del m["propellant"]
        if r.random() < 0.5:
            m.update(impulse=self.q(impulse, "impulse"), burn=self.q(burn, "time"))
        else:
            force = impulse / burn
            times = sorted(r.uniform(0.05, 0.95) * burn for _ in range(r.randint(2, 8)))
            rows = [(t, force * r.uniform(0.6, 1.4)) for t in times]
            start = r.choice([[(0, 0)], [(0, force)], []])
            end = r.choice([[(burn, 0)], [(burn, 0.4 * force)]])
            m["thrust"] = self.table("motor.csv", "time_s,thrust_n", start + rows + end)
        if r.random() < 0.85:
            m["delay"] = self.q(r.uniform(0, 15), "time")
        return m, burn

    def drag(self):
        if self.r.random() < 0.5:
            return round(self.r.uniform(0.35, 0.9), 3)
        machs = sorted(self.r.sample([0, 0.2, 0.4, 0.6, 0.8, 0.9, 1, 1.1, 1.3, 1.7, 2.2], self.r.randint(2, 6)))
        return self.table("drag.csv", "mach,cd", [(m, self.r.uniform(0.35, 0.9)) for m in machs])

    def vehicle(self, mass):
        r = self.r
        d = 0.06 * mass ** (1 / 3) * self.log(0.7, 1.5)
        v = {"mass": self.q(mass, "mass"), "diameter": self.q(d, "length")}
        if r.random() < 0.6:
            v["length"] = self.q(d * r.uniform(12, 30), "length")
        if r.random() < 0.75:
            v["drag"] = self.drag()
        if r.random() < 0.4:
            v["yaw_wavelength"] = r.choice(["0 m", self.q(self.log(8, 150), "length")])
        if r.random() < 0.3:
            v["yaw_damping"] = round(r.uniform(0, 0.5), 3)
        return v

    def device(self, mass, triggers, slow):
        r = self.r
        rate = r.uniform(4, 8) if slow else r.uniform(12, 25)
        cds = 2 * mass * 9.8 / (1.225 * rate**2)
        kind = r.choice(["streamer", "parachute", "parachute"])
        dev = {"device": kind, "trigger": r.choice(triggers)}
        form = r.randint(0, 2)
        if form == 0:
            dev["descent_rate"] = self.q(rate, "speed")
        elif form == 1:
            dev["drag_area"] = self.q(cds, "area")
        elif kind == "streamer":
            cd = round(r.uniform(0.1, 0.3), 3)
            width = math.sqrt(cds / cd / 10)
            dev.update(width=self.q(width, "length"), length=self.q(10 * width, "length"), drag=cd)
        else:
            cd = round(r.uniform(0.6, 1.1), 3)
            dev.update(diameter=self.q(math.sqrt(4 * cds / cd / math.pi), "length"), drag=cd)
        if r.random() < 0.8:
            dev["opening_delay"] = self.q(r.uniform(0, 1.5), "time")
        if r.random() < 0.5:
            dev["fill_time"] = self.q(r.uniform(0, 1.5), "time")
        return dev

    def recovery(self, mass, has_delay):
        r = self.r
        n = r.choice([0, 1, 1, 1, 2, 2, 3])
        top = ["apogee", f"apogee + {r.uniform(0.2, 3):.2f} s"] + ["ejection"] * (3 if has_delay else 0)
        low = [f"height {self.q(r.uniform(60, 500), 'length')}"]
        devices = [self.device(mass, top, slow=n == 1)] if n else []
        for i in range(1, n):
            devices.append(self.device(mass, low if i == n - 1 else [*top, *low], slow=True))
            if r.random() < 0.4:
                devices[-1]["releases"] = True
        return devices

    def wind(self):
        r = self.r
        n = r.choice([1, 1, 2, 3, 6])
        first = r.choice([r.uniform(1, 12), r.uniform(12, 150)])
        if n == 1 and r.random() < 0.3:
            first = r.uniform(60, 900)
        heights = sorted([first, *(first + self.log(20, 4000) for _ in range(n - 1))])
        bearing, levels = r.uniform(0, 360), []
        for h in heights:
            bearing += r.uniform(-25, 40)
            levels.append({"height": self.q(h, "length"), "from": f"{bearing % 360:.1f} deg",
                           "speed": self.q(r.uniform(0.5, 6) + 5 * min(h, 3000) / 1500, "speed")})
        wind = {"levels": levels}
        if r.random() < 0.5:
            wind["roughness"] = self.q(self.log(0.002, 0.4), "length")
        if n == 1 and r.random() < 0.6:
            wind["veer"] = f"{r.uniform(0, 40):.1f} deg"
        return wind

    def site(self):
        r = self.r
        lat, lon = round(r.uniform(-70, 70), 5), round(r.choice([r.uniform(-180, 180), 179.99, -179.99]), 5)
        elevation = r.uniform(-50, 3000)
        site = {"pad": f"{lat}, {lon}", "elevation": self.q(elevation, "length")}
        celsius = r.uniform(-15, 38)
        if r.random() < 0.6:
            site["temperature"] = r.choice([f"{celsius:.1f} degC", f"{celsius * 1.8 + 32:.1f} degF",
                                            f"{celsius + 273.15:.2f} K"])
        if r.random() < 0.6:
            site["pressure"] = self.q(r.uniform(97000, 104000), "pressure")
        if abs(lat) < 50 and abs(lon) < 179 and r.random() < 0.5:
            site["terrain"] = self.terrain(lat, lon, elevation)
        return site

    def terrain(self, lat, lon, elevation):
        n, step = 24, 0.01
        a, b, c = self.r.uniform(-60, 60), self.r.uniform(-60, 60), self.r.uniform(0, 40)
        rows = []
        for j in range(n - 1, -1, -1):
            y = (j + 0.5 - n / 2) / 10
            rows.append(" ".join(f"{elevation + a * (x := (i + 0.5 - n / 2) / 10) + b * y + c * math.sin(7 * x + 5 * y):.1f}"
                                 for i in range(n)))
        west, south = lon - n / 2 * step, lat - n / 2 * step
        self.files["ground.asc"] = (f"ncols {n}\nnrows {n}\nxllcorner {west:.5f}\nyllcorner {south:.5f}\n"
                                    f"cellsize {step}\nNODATA_value -9999\n" + "\n".join(rows) + "\n")
        return "ground.asc"

    def flight(self, name):
        r = self.r
        mass = self.log(0.05, 30)
        motor, _ = self.motor(mass)
        y = {"flight": name, "site": self.site(),
             "rail": {"length": self.q(self.log(0.8, 5), "length"), "lean": f"{r.uniform(0, 12):.2f} deg",
                      "toward": f"{r.uniform(0, 360):.1f} deg"},
             "vehicle": self.vehicle(mass), "motor": motor,
             "recovery": self.recovery(mass, "delay" in motor or "designation" in motor), "wind": self.wind()}
        if not y["recovery"]:
            del y["recovery"]
        return y


def text(y):
    """YAML of the flight; JSON's flow style is YAML too, and needs no library to come out the same."""
    lines = [f"flight: {y['flight']}"]
    for key, value in y.items():
        if isinstance(value, list):
            lines += [f"{key}:"] + [f"  - {json.dumps(v)}" for v in value]
        elif isinstance(value, dict):
            lines.append(f"{key}: {json.dumps(value)}")
    return "\n".join(lines) + "\n"


def write(folder, y, files):
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in {"flight.yaml": text(y), **files}.items():
        (folder / name).write_text(content)


def flies(name, w, y):
    """Whether the flight is one to keep: it flies, to 15 m and more, and stays below 14 km."""
    with tempfile.TemporaryDirectory() as d:
        write(Path(d), y, w.files)
        try:
            n = truth.nominal(Path(d) / "flight.yaml")[0]
        except (flight.NoFlight, ValueError):
            return False
        return 15 < n["apogee_m"] < 14000


def generate():
    shutil.rmtree(HERE / "random", ignore_errors=True)
    rng = random.Random(SEED)
    made = 0
    while made < COUNT:
        w = Writer(rng)
        name = f"random-{made + 1:02d}"
        y = w.flight(name)
        if flies(name, w, y):
            write(HERE / "random" / name, y, w.files)
            made += 1


def main():
    where, numbers = HERE / "random", HERE / "random.json"
    if sys.argv[1:] == ["--check"]:
        truth.check(where, numbers)
        return
    generate()
    numbers.write_text(json.dumps(truth.fly_all(where), indent=1) + "\n")


if __name__ == "__main__":
    main()
