"""Reads a flight.yaml with its side files into plain values in SI units and radians."""
import math
import re
from dataclasses import dataclass, field
from pathlib import Path

import yaml

from quantities import place, quantity

# Upper bound of total impulse of each letter class, N s (NFPA 1125): (lower, upper].
CLASS_TOP = {"1/8A": 0.3125, "1/4A": 0.625, "1/2A": 1.25,
             **{letter: 2.5 * 2**i for i, letter in enumerate("ABCDEFGHIJKLMNO")}}
DEFAULT_RAIL_M = 1.0
ROUGHNESS_M = 0.03
VEER = math.radians(15)
PROPELLANT_KG_PER_NS = 0.6e-3
DEFAULT_CD = 0.6


@dataclass
class Device:
    kind: str
    trigger: str          # ejection, apogee, height, burnout
    lag: float            # s after the trigger
    height: float         # m above the pad, for height
    cds: float            # m2; nan while it stands for descent_rate
    rate: float           # m/s, or nan
    diameter: float       # m, or nan
    opening: float        # s
    fill: float           # s, or nan for the default
    releases: bool


@dataclass
class Flight:
    lat: float
    lon: float
    elevation: float
    temperature: float    # K, nan if not observed
    qnh: float            # Pa
    rail: float
    lean: float
    toward: float
    mass: float
    diameter: float
    length: float         # nan if not given
    drag: list            # [(mach, cd)]; empty while it stands for the apogee
    apogee: float         # nan unless drag comes from it
    wavelength: float     # nan if not given
    damping: float
    thrust: list          # [(s, N)]
    propellant: float
    delay: float          # nan if none
    devices: list
    levels: list          # [(m, m/s toward east, m/s toward north)], lowest first
    veer: float
    roughness: float
    terrain: object       # None or Grid
    spread: dict = field(default_factory=dict)
    outcomes: dict = None


@dataclass
class Grid:
    """An ESRI ASCII grid: values at cell centres, bilinear between them."""
    west: float
    south: float
    step: float
    rows: list            # south first

    def at(self, lat, lon):
        fx, fy = (lon - self.west) / self.step - 0.5, (lat - self.south) / self.step - 0.5
        nx, ny = len(self.rows[0]), len(self.rows)
        if not (0 <= fx <= nx - 1 and 0 <= fy <= ny - 1):
            raise ValueError(f"{lat},{lon} lies outside the terrain")
        i, j = min(int(fx), nx - 2), min(int(fy), ny - 2)
        fx, fy = fx - i, fy - j
        a, b = self.rows[j], self.rows[j + 1]
        return (a[i] * (1 - fx) + a[i + 1] * fx) * (1 - fy) + (b[i] * (1 - fx) + b[i + 1] * fx) * fy


def read_grid(path):
    head, rows = {}, []
    for line in Path(path).read_text().split("\n"):
        words = line.split()
        if not words:
            continue
        if re.match(r"[A-Za-z]", words[0]):
            head[words[0].lower()] = float(words[1])
        else:
            rows.append([float(w) for w in words])
    return Grid(head["xllcorner"], head["yllcorner"], head["cellsize"], rows[::-1])


def read_table(path):
    lines = [l for l in Path(path).read_text().split("\n") if l.strip() and not l.startswith("#")]
    return [tuple(float(v) for v in l.split(",")) for l in lines[1:]]


def designation(text):
    """Average thrust, mid-class impulse and delay (nan if none) of the hobby's code."""
    m = re.match(r"((?:1/[248])?[A-O])([0-9.]+)(?:-([0-9.]+|P))?$", text)
    if not m:
        raise ValueError(f"{text!r} is not a designation")
    names = list(CLASS_TOP)
    i = names.index(m.group(1))
    low = CLASS_TOP[names[i - 1]] if i else 0
    delay = float(m.group(3)) if m.group(3) not in (None, "P") else math.nan
    return float(m.group(2)), (low + CLASS_TOP[m.group(1)]) / 2, delay


def get(d, key, kind, default=math.nan):
    return quantity(d[key], kind) if key in d else default


def read_device(d):
    trigger, lag, height = str(d["trigger"]), 0.0, math.nan
    if trigger.startswith("height"):
        height, trigger = quantity(trigger[6:], "length"), "height"
    elif "+" in trigger:
        trigger, tail = (p.strip() for p in trigger.split("+"))
        lag = quantity(tail, "time")
    kind, diameter = d["device"], get(d, "diameter", "length")
    if "drag_area" in d:
        cds = quantity(d["drag_area"], "area")
    elif "descent_rate" in d:
        cds = math.nan
    elif kind == "streamer":
        cds = float(d["drag"]) * quantity(d["width"], "length") * quantity(d["length"], "length")
    else:
        cds = float(d["drag"]) * math.pi / 4 * diameter**2
    return Device(kind, trigger, lag, height, cds, get(d, "descent_rate", "speed"), diameter,
                  get(d, "opening_delay", "time", 0.0), get(d, "fill_time", "time"),
                  bool(d.get("releases", False)))


def read_motor(folder, d):
    """Thrust table, propellant and delay."""
    delay = get(d, "delay", "time")
    average = impulse = math.nan
    if "designation" in d:
        try:
            average, impulse, coded = designation(str(d["designation"]))
            delay = coded if math.isnan(delay) else delay
        except ValueError:
            pass
    if "thrust" in d:
        thrust = read_table(folder / d["thrust"])
    else:
        impulse = get(d, "impulse", "impulse", impulse)
        burn = get(d, "burn", "time", impulse / average)
        thrust = [(0.0, impulse / burn), (burn, impulse / burn)]
    total = sum((b[0] - a[0]) * (a[1] + b[1]) / 2 for a, b in zip(thrust, thrust[1:]))
    return thrust, get(d, "propellant", "mass", PROPELLANT_KG_PER_NS * total), delay


def read(path):
    folder = Path(path).parent
    y = yaml.safe_load(Path(path).read_text())
    site, rail, vehicle, wind = y["site"], y.get("rail", {}), y["vehicle"], y["wind"]
    lat, lon = place(site["pad"])
    if isinstance(wind, list):
        wind = {"levels": wind}
    levels = []
    for l in wind["levels"]:
        speed, bearing = quantity(l["speed"], "speed"), quantity(l["from"], "angle")
        levels.append((quantity(l["height"], "length"), -speed * math.sin(bearing), -speed * math.cos(bearing)))
    thrust, propellant, delay = read_motor(folder, y["motor"])
    terrain = read_grid(folder / site["terrain"]) if "terrain" in site else None
    drag = vehicle.get("drag", None if "apogee" in vehicle else DEFAULT_CD)
    if drag is None:
        drag = []
    elif isinstance(drag, str):
        drag = read_table(folder / drag)
    else:
        drag = [(0.0, float(drag))]
    return Flight(
        lat=lat, lon=lon,
        elevation=get(site, "elevation", "length", terrain.at(lat, lon) if terrain else 0.0),
        temperature=get(site, "temperature", "temperature"),
        qnh=get(site, "pressure", "pressure", 101325.0),
        rail=get(rail, "length", "length", DEFAULT_RAIL_M),
        lean=get(rail, "lean", "angle", 0.0), toward=get(rail, "toward", "angle", 0.0),
        mass=quantity(vehicle["mass"], "mass"), diameter=quantity(vehicle["diameter"], "length"),
        length=get(vehicle, "length", "length"), drag=drag, apogee=get(vehicle, "apogee", "length"),
        wavelength=get(vehicle, "yaw_wavelength", "length"), damping=float(vehicle.get("yaw_damping", 0.1)),
        thrust=thrust, propellant=propellant, delay=delay,
        devices=[read_device(d) for d in y.get("recovery") or []],
        levels=sorted(levels), veer=get(wind, "veer", "angle", VEER),
        roughness=get(wind, "roughness", "length", ROUGHNESS_M),
        terrain=terrain, spread=y.get("spread") or {}, outcomes=y.get("outcomes"))
