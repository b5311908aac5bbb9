"""One flight from ignition to landing, by adaptive eighth-order integration with event location.

State on the rail: (s, speed). Off it: x east, y north, z up, and their rates; while the motor burns
and the body lags (level 2), also its direction n and n's rate. SI units, radians.
"""
import math
from dataclasses import dataclass, field

from geographiclib.geodesic import Geodesic
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from physics import G_STANDARD, RHO_SEA, Air, Gravity, Motor, Wind

TOLERANCE = 1e-10
METHOD = "DOP853"


@dataclass
class Draw:
    """What differs from the nominal flight in one run; factors multiply."""
    lean_in: float = 0.0      # rad, in the plane of the lean
    lean_square: float = 0.0  # rad, square to it, toward the right hand
    impulse: float = 1.0
    delay: float = 1.0
    drag: float = 1.0
    wavelength: float = 1.0
    mass: float = 1.0
    cds: list = None          # factors, one a device
    opening: list = None
    fill: list = None
    wind_scale: float = 1.0
    wind_turn: float = 0.0    # rad, clockwise
    shape: tuple = None       # (dz, [u], [v]) added to the wind at z = 0, dz, 2 dz, ...
    outcome: str = "nominal"
    tangled: float = 0.25     # share of the first device's CdS delivered when tangled


@dataclass
class Numbers:
    rail_exit_mps: float = math.nan
    burnout_s: float = math.nan
    apogee_m: float = math.nan
    apogee_s: float = math.nan
    ejection_s: float = math.nan
    landing_s: float = math.nan
    landing_mps: float = math.nan
    x: float = math.nan
    y: float = math.nan
    events: list = field(default_factory=list)


class NoFlight(Exception):
    pass


def table(rows):
    """A function linear between rows of (x, y), flat outside them."""
    if len(rows) == 1:
        return lambda x: rows[0][1]

    def value(x):
        if x <= rows[0][0]:
            return rows[0][1]
        for (xa, ya), (xb, yb) in zip(rows, rows[1:]):
            if x < xb:
                return ya + (yb - ya) * (x - xa) / (xb - xa)
        return rows[-1][1]
    return value


class Model:
    def __init__(self, f):
        self.f, self.air, self.gravity = f, Air(f), Gravity(f)
        self.area = math.pi * f.diameter**2 / 4
        self.dry = f.mass - f.propellant
        self.wavelength = self._wavelength()
        self.cds = [2 * self.dry * G_STANDARD / (RHO_SEA * d.rate**2) if math.isnan(d.cds) else d.cds
                    for d in f.devices]
        self.drag = f.drag or [(0.0, self._fit_drag())]

    def _wavelength(self):
        f = self.f
        if not math.isnan(f.wavelength):
            return f.wavelength
        if math.isnan(f.length):
            return 0.0
        inertia = f.mass * f.length**2 / 12
        return 2 * math.pi * math.sqrt(2 * inertia / (RHO_SEA * self.area * 10 * f.diameter * 1.5))

    def _fit_drag(self):
        def miss(log_cd):
            self.drag = [(0.0, math.exp(log_cd))]
            return Run(self, Draw(), devices=False).fly(to_apogee=True).apogee_m - self.f.apogee
        return math.exp(brentq(miss, math.log(1e-3), math.log(20), xtol=1e-9))

    def fly(self, draw=None, devices=True):
        return Run(self, draw or Draw(), devices).fly()

    def place(self, x, y):
        g = Geodesic.WGS84.Direct(self.f.lat, self.f.lon, math.degrees(math.atan2(x, y)), math.hypot(x, y))
        return g["lat2"], g["lon2"]

    def ground(self, x, y):
        """Height of the ground above the pad."""
        if self.f.terrain is None:
            return 0.0
        return self.f.terrain.at(*self.place(x, y)) - self.f.elevation


class Deployed:
    """A device at work: its CdS grows linearly from opening to opening + fill."""

    def __init__(self, index, opening):
        self.index, self.opening = index, opening
        self.fill, self.full = None, 0.0

    def cds(self, t):
        if self.fill is None or t < self.opening:
            return 0.0
        if t >= self.opening + self.fill:
            return self.full
        return self.full * (t - self.opening) / self.fill


class Run:
    def __init__(self, model, draw, devices=True):
        self.model, self.f, self.draw = model, model.f, draw
        f = self.f
        self.wind = Wind(f, draw)
        self.motor = Motor(f, draw.impulse)
        self.mass0 = f.mass * draw.mass
        self.cd = table(model.drag)
        self.wavelength = model.wavelength * draw.wavelength
        self.devices = list(f.devices) if devices and draw.outcome != "no recovery" else []
        self.triggers = [(d.trigger, d.lag, d.height) for d in self.devices]
        n = len(self.devices)
        self.k_cds = list(draw.cds or [1.0] * n)
        self.k_opening = list(draw.opening or [1.0] * n)
        self.k_fill = draw.fill or [1.0] * n
        if self.devices:
            if draw.outcome == "late opening":
                self.k_opening[0] *= 5
            elif draw.outcome == "tangled":
                self.k_cds[0] *= draw.tangled
            elif draw.outcome == "early opening":
                self.triggers[0] = ("burnout", 0.0, math.nan)
            elif draw.outcome == "main at apogee":
                self.triggers[-1] = ("apogee", 0.0, math.nan)
        self.ejection = self.motor.burnout + f.delay * draw.delay
        a, b = f.lean + draw.lean_in, draw.lean_square
        s, c = math.sin(f.toward), math.cos(f.toward)
        self.axis = (math.sin(a) * math.cos(b) * s + math.sin(b) * c,
                     math.sin(a) * math.cos(b) * c - math.sin(b) * s, math.cos(a) * math.cos(b))
        self.out = Numbers(burnout_s=self.motor.burnout)
        self.segment = None      # of the thrust table, None when the motor does not burn
        self.mass = self.mass0   # once it no longer burns
        self.deployed, self.gone, self.fired = [], set(), set()
        self.tumbling = False

    # -- forces ------------------------------------------------------------------------------

    def push(self, t):
        """Thrust and mass."""
        if self.segment is None:
            return 0.0, self.mass
        thrust, share = self.motor.at(t, self.segment)
        return thrust, self.mass0 - self.f.propellant * share

    def axial(self, mach):
        return self.cd(mach) * self.draw.drag * self.model.area

    def rail_rates(self, t, y):
        s, speed = y
        ex, ey, ez = self.axis
        z = s * ez
        u, v = self.wind.at(z)
        rho, sound = self.model.air.at(z)
        rel = speed - u * ex - v * ey
        drag = 0.5 * rho * rel * abs(rel) * self.axial(abs(rel) / sound)
        thrust, mass = self.push(t)
        return [speed, (thrust - drag) / mass - self.model.gravity.at(z) * ez]

    def rates(self, t, y):
        vx, vy, vz = y[3], y[4], y[5]
        z = y[2]
        u, v = self.wind.at(z)
        rho, sound = self.model.air.at(z)
        rx, ry = vx - u, vy - v
        speed = math.sqrt(rx * rx + ry * ry + vz * vz)
        thrust, mass = self.push(t)
        g = self.model.gravity.at(z)
        if self.tumbling:
            cds = self.tumbling_cds(speed / sound) + sum(d.cds(t) for d in self.deployed)
            k = -0.5 * rho * speed * cds / mass
            return [vx, vy, vz, k * rx, k * ry, k * vz - g]
        k = -0.5 * rho * speed * self.axial(speed / sound) / mass
        if len(y) == 6:  # level 1, or nothing left to point
            if thrust and speed:
                k += thrust / mass / speed
            return [vx, vy, vz, k * rx, k * ry, k * vz - g]
        a = thrust / mass
        nx, ny, nz, px, py, pz = y[6:]
        w = 2 * math.pi * speed / self.wavelength
        spring, damp = w * w, 2 * self.f.damping * w
        bx = -damp * px - spring * (nx - rx / speed)
        by = -damp * py - spring * (ny - ry / speed)
        bz = -damp * pz - spring * (nz - vz / speed)
        along = bx * nx + by * ny + bz * nz + px * px + py * py + pz * pz
        return [vx, vy, vz, k * rx + a * nx, k * ry + a * ny, k * vz - g + a * nz,
                px, py, pz, bx - along * nx, by - along * ny, bz - along * nz]

    def tumbling_cds(self, mach):
        if math.isnan(self.f.length):
            return 3 * self.axial(mach)
        return self.f.length * self.f.diameter

    # -- the rail ----------------------------------------------------------------------------

    def leave_rail(self):
        """Time and state at the end of the rail."""
        m, ez = self.motor, self.axis[2]

        def lift(t):
            return self.rail_rates(t, (0.0, 0.0))[1]
        start = None
        for i in range(len(m.t) - 1):
            if m.t[i + 1] == m.t[i]:
                continue
            self.segment = i
            if lift(m.t[i]) > 0:
                start = m.t[i]
            elif lift(m.t[i + 1]) > 0:
                start = brentq(lift, m.t[i], m.t[i + 1], xtol=1e-13)
            if start is not None:
                break
        if start is None:
            raise NoFlight("burnout before the vehicle moves")

        def end(t, y):
            return y[0] - self.f.rail

        def stop(t, y):
            return y[1] + 1e-9
        end.terminal, end.direction = True, 1
        stop.terminal, stop.direction = True, -1
        t, y = start, [0.0, 0.0]
        while True:
            until = m.t[self.segment + 1] if self.segment is not None else t + 60
            r = solve_ivp(self.rail_rates, (t, until), y, method=METHOD, rtol=TOLERANCE, atol=TOLERANCE,
                          events=[end, stop])
            t, y = r.t[-1], list(r.y[:, -1])
            if r.status == 1:
                if len(r.t_events[1]):
                    raise NoFlight("comes to rest on the rail")
                break
            self.next_segment()
        self.out.rail_exit_mps = y[1]
        ex, ey, _ = self.axis
        return t, [y[0] * ex, y[0] * ey, y[0] * ez, y[1] * ex, y[1] * ey, y[1] * ez]

    def next_segment(self):
        m = self.motor
        self.segment += 1
        while self.segment < len(m.t) - 1 and m.t[self.segment + 1] == m.t[self.segment]:
            self.segment += 1
        if self.segment >= len(m.t) - 1:
            self.segment, self.mass = None, self.mass0 - self.f.propellant

    # -- free flight -------------------------------------------------------------------------

    def fly(self, to_apogee=False):
        out = self.out
        t, y = self.leave_rail()
        if y[5] <= 0:
            raise NoFlight("does not rise")
        if self.wavelength > 0 and self.segment is not None:
            y += [*self.axis, 0.0, 0.0, 0.0]
        timed = [(self.motor.burnout, "burnout")]
        if not math.isnan(self.ejection):
            timed.append((self.ejection, "ejection"))
        timed = [e for e in timed if e[0] >= t]
        if self.motor.burnout < t:   # burnt out on the rail
            self.on_trigger("burnout", t, y, timed)
        while True:
            timed.sort(key=lambda e: e[0])
            until = timed[0][0] if timed else t + 3600
            if self.segment is not None:
                until = min(until, self.motor.t[self.segment + 1])
            if until > t:
                t, y, hit = self.integrate(t, y, until)
            else:
                hit = None
            if hit == "landing":
                self.land(t, y)
                return out
            if hit == "apogee":
                out.apogee_m, out.apogee_s = y[2], t
                if to_apogee:
                    return out
                self.on_trigger("apogee", t, y, timed)
                for i, (name, _, height) in enumerate(self.triggers):
                    if name == "height" and y[2] <= height:
                        self.fire(i, t, y, timed)
            elif hit is not None:
                for i, (name, _, height) in enumerate(self.triggers):
                    if name == "height" and y[2] <= height + 1e-9:
                        self.fire(i, t, y, timed)
            elif self.segment is not None and until == self.motor.t[self.segment + 1]:
                self.next_segment()
            y = self.on_time(t, y, timed)
            if self.segment is None:
                y = y[:6]

    def on_time(self, t, y, timed):
        while timed and timed[0][0] <= t:
            _, what = timed.pop(0)
            if what == "ejection":
                self.out.ejection_s = t
            if what in ("ejection", "burnout"):
                self.on_trigger(what, t, y, timed)
            elif what[0] == "trigger":
                self.fire(what[1], t, y, timed)
            elif what[0] == "open":
                self.open(what[1], t, y, timed)
            timed.sort(key=lambda e: e[0])
        return y

    def on_trigger(self, what, t, y, timed):
        for i, (name, lag, _) in enumerate(self.triggers):
            if name == what and i not in self.fired:
                if lag > 0:
                    timed.append((t + lag, ("trigger", i)))
                else:
                    self.fire(i, t, y, timed)

    def fire(self, i, t, y, timed):
        """The trigger of device i."""
        if i in self.fired or i in self.gone:
            return
        self.fired.add(i)
        if self.segment is not None:
            self.mass, self.segment = self.push(t)[1], None
        self.tumbling = True
        device = self.devices[i]
        self.out.events.append((f"trigger {i}", t, y[2]))
        if device.releases:
            self.gone.update(range(i))
            self.deployed = [d for d in self.deployed if d.index >= i]
        d = Deployed(i, t + device.opening * self.k_opening[i])
        self.deployed.append(d)
        timed.append((d.opening, ("open", d)))

    def open(self, d, t, y, timed):
        if d not in self.deployed:
            return
        device, full = self.devices[d.index], self.model.cds[d.index]
        fill = device.fill
        if math.isnan(fill):
            if device.kind == "streamer":
                fill = 0.0
            else:
                u, v = self.wind.at(y[2])
                speed = math.sqrt((y[3] - u)**2 + (y[4] - v)**2 + y[5]**2)
                diameter = device.diameter
                if math.isnan(diameter):
                    diameter = math.sqrt(full / 0.8 * 4 / math.pi)
                fill = 8 * diameter / speed
        d.fill, d.full, d.opening = fill * self.k_fill[d.index], full * self.k_cds[d.index], t
        self.out.events.append((f"opening {d.index}", t, y[2]))
        timed.append((t + d.fill, ("filled", d)))

    def integrate(self, t, y, until):
        """On to `until`, or to the first event in the state: 'apogee', a device's index, 'landing'."""
        checks, names = [], []
        if math.isnan(self.out.apogee_s):
            checks.append(lambda t, y: y[5])
            names.append("apogee")
        else:
            checks.append(lambda t, y: y[2] - self.model.ground(y[0], y[1]))
            names.append("landing")
            for i, (name, _, height) in enumerate(self.triggers):
                if name == "height" and i not in self.fired and i not in self.gone:
                    checks.append(lambda t, y, h=height: y[2] - h)
                    names.append(i)
        for c in checks:
            c.terminal, c.direction = True, -1
        r = solve_ivp(self.rates, (t, until), y[:6] if self.tumbling else y, method=METHOD, rtol=TOLERANCE, atol=TOLERANCE,
                      events=checks)
        if r.status < 0:
            raise RuntimeError(r.message)
        hit = None
        if r.status == 1:
            hit = next(n for n, e in zip(names, r.t_events) if len(e))
        return r.t[-1], list(r.y[:, -1]), hit

    def land(self, t, y):
        o = self.out
        o.landing_s, o.landing_mps = t, math.sqrt(y[3]**2 + y[4]**2 + y[5]**2)
        o.x, o.y = y[0], y[1]
