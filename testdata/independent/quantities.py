"""Quantities with units, as a person writes them, to SI. One small table, one small parser."""
import math
import re

FOOT, INCH, POUND = 0.3048, 0.0254, 0.45359237  # exact by definition
POUND_FORCE = POUND * 9.80665

UNITS = {
    "length": {"m": 1, "mm": 1e-3, "cm": 1e-2, "km": 1e3, "ft": FOOT, "in": INCH, "yd": 3 * FOOT,
               "mi": 1609.344, "nmi": 1852},
    "mass": {"kg": 1, "g": 1e-3, "lb": POUND, "oz": POUND / 16},
    "time": {"s": 1, "ms": 1e-3, "min": 60},
    "speed": {"m/s": 1, "km/h": 1 / 3.6, "kn": 1852 / 3600, "mph": 0.44704, "ft/s": FOOT},
    "angle": {"deg": math.pi / 180, "rad": 1},
    "area": {"m2": 1, "cm2": 1e-4, "mm2": 1e-6, "ft2": FOOT**2, "in2": INCH**2},
    "impulse": {"N s": 1, "lbf s": POUND_FORCE, "kN s": 1e3},
    # Conventional millimetre of mercury, 133.322387415 Pa.
    "pressure": {"Pa": 1, "hPa": 100, "mbar": 100, "kPa": 1e3, "inHg": 133.322387415 * 25.4},
    "fraction": {"%": 1e-2},
}


def quantity(text, kind):
    """The SI value of a text such as '12 kn'; kind is a key of UNITS or 'temperature' (kelvin)."""
    m = re.fullmatch(r"\s*([-+]?[0-9]*\.?[0-9]+(?:[eE][-+]?[0-9]+)?)\s*(\S.*?)\s*", str(text))
    if not m:
        raise ValueError(f"{text!r} is not a quantity of {kind}")
    value, unit = float(m.group(1)), m.group(2)
    if kind == "temperature":
        if unit == "degC":
            return value + 273.15
        if unit == "degF":
            return (value - 32) / 1.8 + 273.15
        if unit == "K":
            return value
    elif unit in UNITS[kind]:
        return value * UNITS[kind][unit]
    raise ValueError(f"{text!r} is not a quantity of {kind}")


def place(text):
    """Latitude and longitude in degrees of 'LAT,LON' in degrees, or with minutes and seconds."""
    parts = [p.strip() for p in str(text).split(",")]
    if len(parts) != 2:
        raise ValueError(f"{text!r} is not a place")
    return _angle(parts[0], "S"), _angle(parts[1], "W")


def _angle(text, negative):
    numbers = [float(n) for n in re.findall(r"[0-9]+(?:\.[0-9]+)?", text)]
    value = sum(n / 60**i for i, n in enumerate(numbers))
    return -value if text.startswith("-") or text.upper().endswith(negative) else value
