"""The nominal numbers of flight folders, by flight.py.

    python3 truth.py             writes truth.json from cases/
    python3 truth.py --check     flies cases/ again and compares with truth.json; exit 1 on a difference
    python3 truth.py CASE...     prints those cases
"""
import json
import math
import sys
import time
from pathlib import Path

import flight
import flightfile

HERE = Path(__file__).parent


def nominal(path):
    """The nominal numbers of a flight file, as the JSON of a prediction names them."""
    model = flight.Model(flightfile.read(path))
    out = model.fly()
    lat, lon = model.place(out.x, out.y)
    numbers = {k: getattr(out, k) for k in ("rail_exit_mps", "burnout_s", "apogee_m", "apogee_s", "ejection_s",
                                            "landing_s", "landing_mps")}
    numbers = {k: None if math.isnan(v) else round(v, 6) for k, v in numbers.items()}
    numbers["landing"] = {"lat": round(lat, 9), "lon": round(lon, 9), "east_m": round(out.x, 5),
                          "north_m": round(out.y, 5)}
    return numbers, model, out


def fly_all(folder):
    """The numbers of every flight folder in folder, by name."""
    truth = {}
    for case in sorted(p for p in folder.iterdir() if p.is_dir()):
        try:
            truth[case.name] = nominal(case / "flight.yaml")[0]
        except flight.NoFlight as e:
            truth[case.name] = {"error": str(e)}
    return truth


def differences(a, b, where=""):
    """Lines for values of a and b that differ by more than 1e-6 of their size + 1e-4 (1e-8 degrees).

    The integration holds 1e-10 a step; the rest is room for other builds of the libraries.
    """
    if isinstance(a, dict) and isinstance(b, dict):
        return [d for k in sorted(a.keys() | b.keys()) for d in differences(a.get(k), b.get(k), f"{where} {k}")]
    if isinstance(a, float) and isinstance(b, float):
        room = 1e-8 if where.endswith(("lat", "lon")) else 1e-6 * abs(a) + 1e-4
        return [] if abs(a - b) <= room else [f"{where.strip()}: {a} and {b}"]
    return [] if a == b else [f"{where.strip()}: {a} and {b}"]


def check(folder, truth):
    """Flies the folder's flights again and exits: 1 if they differ from the truth file."""
    again = fly_all(folder)
    found = differences(json.loads(truth.read_text()), again)
    print("\n".join(found) if found else f"{len(again)} flights agree with {truth.name}")
    sys.exit(1 if found else 0)


def main():
    cases, truth = HERE / "cases", HERE / "truth.json"
    if not sys.argv[1:]:
        start = time.process_time()
        numbers = fly_all(cases)
        seconds = (time.process_time() - start) / len(numbers)
        truth.write_text(json.dumps(numbers, indent=1) + "\n")
        print(f"{len(numbers)} flights, {seconds:.3f} s each")
    elif sys.argv[1] == "--check":
        check(cases, truth)
    else:
        for name in sys.argv[1:]:
            numbers, model, out = nominal(cases / name / "flight.yaml")
            print(name, json.dumps(numbers, indent=1))
            print(f"drag {model.drag}, yaw wavelength {model.wavelength:.4f} m")
            for event in out.events:
                print("%s at %.3f s, %.2f m" % event)


if __name__ == "__main__":
    main()
