"""Many runs of one flight side by side: the equations of flight.py over NumPy arrays.

One row a run. Every run takes its own step length: never across a change in thrust, a trigger or an
opening; short against its own time constants. A step that crosses an event in the state is taken
again at the length that ends on it.
"""
import math
from dataclasses import dataclass

import numpy as np

from around import Ground, Surroundings

INF = math.inf


@dataclass
class Draws:
    lean_in: np.ndarray
    lean_square: np.ndarray
    impulse: np.ndarray
    delay: np.ndarray
    drag: np.ndarray
    wavelength: np.ndarray
    mass: np.ndarray
    cds: np.ndarray       # (devices, runs), as opening and fill
    opening: np.ndarray
    fill: np.ndarray
    wind_scale: np.ndarray
    wind_turn: np.ndarray
    shape_u: np.ndarray   # (runs, nodes)
    shape_v: np.ndarray
    outcome: np.ndarray
    tangled: np.ndarray


def runge_kutta(rates, t, y, h):
    """One classical fourth-order step; y (rows, state), t and h (rows,)."""
    k = h[:, None]
    a = rates(t, y)
    b = rates(t + h / 2, y + k / 2 * a)
    c = rates(t + h / 2, y + k / 2 * b)
    d = rates(t + h, y + k * c)
    return y + k / 6 * (a + 2 * b + 2 * c + d)


def secant(f, high, low, rounds=7):
    """Share in (0, 1) at which f(share) is zero; f(0) = high and f(1) = low have opposite signs."""
    a, fa, b, fb = np.zeros_like(high), high.copy(), np.ones_like(low), low.copy()
    x = b
    for _ in range(rounds):
        x = np.clip(b - fb * (b - a) / np.where(fb == fa, 1.0, fb - fa), 0.0, 1.0)
        fx = f(x)
        same = np.sign(fx) == np.sign(fb)
        fa = np.where(same, fa / 2, fb)     # the Illinois rule
        a = np.where(same, a, b)
        b, fb = x, fx
    return x


class Batch:
    def __init__(self, model, d):
        self.model, self.f, self.d = model, model.f, d
        f = self.f
        n = self.n = len(d.mass)
        self.around = Surroundings(model, d)
        self.mass0, self.mass = f.mass * d.mass, f.mass * d.mass - f.propellant
        self.table_t, self.table_f = np.array(f.thrust).T
        steps = np.diff(self.table_t) * (self.table_f[1:] + self.table_f[:-1]) / 2
        self.table_sum = np.concatenate([[0], np.cumsum(steps)])
        self.burnout = self.table_t[-1]
        self.cd_rows = np.array(model.drag)
        self.wavelength = model.wavelength * d.wavelength
        a, b = f.lean + d.lean_in, d.lean_square
        s, c = math.sin(f.toward), math.cos(f.toward)
        self.axis = np.column_stack([np.sin(a) * np.cos(b) * s + np.sin(b) * c,
                                     np.sin(a) * np.cos(b) * c - np.sin(b) * s, np.cos(a) * np.cos(b)])
        self._devices()
        self.x, self.y = np.full(n, np.nan), np.full(n, np.nan)
        self.apogee_m, self.landing_s, self.landing_mps = (np.full(n, np.nan) for _ in range(3))
        self.ground = Ground(model)

    def _devices(self):
        f, d, n, k = self.f, self.d, self.n, len(self.f.devices)
        is_ = lambda name: d.outcome == name  # noqa: E731
        self.full = np.array(self.model.cds)[:, None] * d.cds
        self.opening = np.array([v.opening for v in f.devices])[:, None] * d.opening
        self.full[0] *= np.where(is_("tangled"), d.tangled, 1.0)
        self.opening[0] *= np.where(is_("late opening"), 5.0, 1.0)
        self.at_time = np.full((k, n), INF)    # trigger time, as far as known
        self.lag = np.full((k, n), np.nan)     # after apogee
        self.at_height = np.full((k, n), -INF)
        ejection = self.burnout + f.delay * d.delay
        for i, v in enumerate(f.devices):
            if v.trigger == "ejection":
                self.at_time[i] = ejection
            elif v.trigger == "apogee":
                self.lag[i] = v.lag
            else:
                self.at_height[i] = v.height
        self._override(0, is_("early opening"), self.burnout, np.nan)
        self._override(k - 1, is_("main at apogee"), INF, 0.0)
        for i in range(k):
            self._override(i, is_("no recovery"), INF, np.nan)
        self.fired, self.opened, self.gone = (np.zeros((k, n), bool) for _ in range(3))
        self.open_t, self.full_t = np.full((k, n), INF), np.full((k, n), INF)
        self.tumbling, self.past_top = np.zeros(n, bool), np.zeros(n, bool)

    def _override(self, i, rows, at_time, lag):
        self.at_time[i, rows], self.lag[i, rows], self.at_height[i, rows] = at_time, lag, -INF

    # -- forces ------------------------------------------------------------------------------

    def axial(self, mach, run):
        return np.interp(mach, self.cd_rows[:, 0], self.cd_rows[:, 1]) * self.d.drag[run] * self.model.area

    def push(self, t, run):
        i = np.clip(np.searchsorted(self.table_t, t, side="right") - 1, 0, len(self.table_t) - 2)
        ta, fa = self.table_t[i], self.table_f[i]
        slope = (self.table_f[i + 1] - fa) / (self.table_t[i + 1] - ta)
        share = (self.table_sum[i] + (t - ta) * (fa + slope * (t - ta) / 2)) / self.table_sum[-1]
        share = np.minimum(share, 1.0)
        burning = (t >= self.table_t[0]) & (t <= self.burnout)
        thrust = np.where(burning, fa + slope * (t - ta), 0.0) * self.d.impulse[run]
        return thrust, self.mass0[run] - self.f.propellant * share

    def rail_rates(self, run):
        ex, ey, ez = self.axis[run].T

        def rates(t, y):
            z = y[:, 0] * ez
            u, v, rho, sound = self.around.at(z, run)
            rel = y[:, 1] - u * ex - v * ey
            drag = 0.5 * rho * rel * np.abs(rel) * self.axial(np.abs(rel) / sound, run)
            thrust, mass = self.push(t, run)
            return np.column_stack([y[:, 1], (thrust - drag) / mass - self.model.gravity.at(z) * ez])
        return rates

    def powered_rates(self, run):
        lags = self.model.wavelength > 0

        def rates(t, y):
            u, v, rho, sound = self.around.at(y[:, 2], run)
            rel = y[:, 3:6].copy()
            rel[:, 0] -= u
            rel[:, 1] -= v
            speed = np.sqrt((rel**2).sum(1))
            thrust, mass = self.push(t, run)
            k = -0.5 * rho * speed * self.axial(speed / sound, run) / mass
            n = y[:, 6:9] if lags else rel / speed[:, None]
            acc = k[:, None] * rel + (thrust / mass)[:, None] * n
            acc[:, 2] -= self.model.gravity.at(y[:, 2])
            if not lags:
                return np.column_stack([y[:, 3:6], acc])
            w = 2 * math.pi * speed / self.wavelength[run]
            p = y[:, 9:12]
            bend = -(2 * self.f.damping * w)[:, None] * p - (w * w)[:, None] * (n - rel / speed[:, None])
            bend -= ((bend * n).sum(1) + (p * p).sum(1))[:, None] * n
            return np.column_stack([y[:, 3:6], acc, p, bend])
        return rates

    def cds_at(self, t, run):
        """Devices' drag area; t lies within one step, which holds no opening inside."""
        total = 0.0
        for i in range(len(self.full)):
            on = self.opened[i, run] & ~self.gone[i, run]
            start, end = self.open_t[i, run], self.full_t[i, run]
            with np.errstate(invalid="ignore", divide="ignore"):
                share = np.where(end > start, np.minimum(np.maximum((t - start) / (end - start), 0), 1), 1.0)
            total = total + np.where(on, share * self.full[i, run], 0.0)
        return total

    def falling_rates(self, run):
        tumbling = self.tumbling[run]
        side = None if math.isnan(self.f.length) else self.f.length * self.f.diameter

        def rates(t, y):
            u, v, rho, sound = self.around.at(y[:, 2], run)
            rel = y[:, 3:6].copy()
            rel[:, 0] -= u
            rel[:, 1] -= v
            speed = np.sqrt((rel**2).sum(1))
            axial = self.axial(speed / sound, run)
            body = np.where(tumbling, 3 * axial if side is None else side, axial)
            acc = (-0.5 * rho * speed * (body + self.cds_at(t, run)) / self.mass[run])[:, None] * rel
            acc[:, 2] -= self.model.gravity.at(y[:, 2])
            return np.column_stack([y[:, 3:6], acc])
        return rates

    # -- the phases --------------------------------------------------------------------------

    def fly(self):
        t, y = self.leave_rail()
        t, y = self.burn(t, y)
        self.fall(t, y)
        return self

    def leave_rail(self):
        everyone = np.arange(self.n)
        rates = self.rail_rates(everyone)
        at_rest = np.zeros((self.n, 2))
        lo, hi = np.full(self.n, self.table_t[0]), np.full(self.n, self.table_t[1])
        if (rates(hi, at_rest)[:, 1] <= 0).any():
            raise ValueError("a run that does not move within the first rows of the thrust table")
        for _ in range(60):
            mid = np.where(rates(lo, at_rest)[:, 1] > 0, lo, (lo + hi) / 2)
            up = rates(mid, at_rest)[:, 1] > 0
            lo, hi = np.where(up, lo, mid), np.where(up, mid, hi)
        t, y = hi.copy(), at_rest
        out_t, out_y = t.copy(), np.zeros((self.n, 6))
        run = everyone
        while len(run):
            h = self.until_node(t, np.full(len(run), 0.004))
            rates = self.rail_rates(run)
            new = runge_kutta(rates, t, y, h)
            past = new[:, 0] >= self.f.rail
            if past.any():
                p = np.flatnonzero(past)
                some = self.rail_rates(run[p])
                share = secant(lambda x: runge_kutta(some, t[p], y[p], x * h[p])[:, 0] - self.f.rail,
                               y[p, 0] - self.f.rail, new[p, 0] - self.f.rail)
                end = runge_kutta(some, t[p], y[p], share * h[p])
                r = run[p]
                out_t[r] = t[p] + share * h[p]
                out_y[r, :3], out_y[r, 3:] = end[:, :1] * self.axis[r], end[:, 1:] * self.axis[r]
            t, y, run = (t + h)[~past], new[~past], run[~past]
        return out_t, out_y

    def until_node(self, t, h):
        """The step h cut at the next row of the thrust table."""
        i = np.searchsorted(self.table_t, t + 1e-12, side="right")
        node = np.append(self.table_t, INF)[np.minimum(i, len(self.table_t))]
        return np.minimum(h, node - t)

    def burn(self, t, y):
        run = np.arange(self.n)
        if self.model.wavelength > 0:
            y = np.column_stack([y, self.axis, np.zeros((self.n, 3))])
        out_t, out_y = t.copy(), y[:, :6].copy()
        while True:
            on = t < self.burnout - 1e-12
            out_t[run[~on]], out_y[run[~on]] = t[~on], y[~on, :6]
            t, y, run = t[on], y[on], run[on]
            if not len(run):
                return out_t, out_y
            h = np.full(len(run), 0.02)
            if self.model.wavelength > 0:
                speed = np.sqrt((y[:, 3:6]**2).sum(1)) + 15
                h = np.minimum(h, 0.2 * self.wavelength[run] / (2 * math.pi * speed))
            h = self.until_node(t, h)
            y = runge_kutta(self.powered_rates(run), t, y, h)
            t = t + h
            if (y[:, 5] < 0).any():
                raise ValueError("a run over the top while the motor burns")

    def fall(self, t, y):
        run = np.arange(self.n)
        while True:
            t, y, run = self.on_time(t, y, run)
            h = self.step_length(t, y, run)
            rates = self.falling_rates(run)
            new = runge_kutta(rates, t, y, h)
            share, what = self.first_event(t, y, new, h, run)
            hit = np.flatnonzero(share < 1)
            if len(hit):
                h[hit] *= share[hit]
                new[hit] = runge_kutta(self.falling_rates(run[hit]), t[hit], y[hit], h[hit])
            t, y = t + h, new
            on = what != self.LANDING
            self.note(t, y, run, what)
            t, y, run = t[on], y[on], run[on]
            if not len(run):
                return

    NOTHING, APOGEE, LANDING, HEIGHT = -1, -2, -3, 0  # HEIGHT + i: device i

    def step_length(self, t, y, run):
        times = [np.where(self.fired[i, run] | self.gone[i, run], INF, self.at_time[i, run])
                 for i in range(len(self.full))]
        times += [np.where(self.opened[i, run], self.full_t[i, run], self.open_t[i, run])
                  for i in range(len(self.full))]
        h = np.full(len(run), 0.25)
        u, v, rho, _ = self.around.at(y[:, 2], run)
        speed = np.sqrt((y[:, 3] - u)**2 + (y[:, 4] - v)**2 + y[:, 5]**2) + 2
        full = sum(np.where(self.opened[i, run] & ~self.gone[i, run], self.full[i, run], 0)
                   for i in range(len(self.full)))
        side = 3 * self.model.area if math.isnan(self.f.length) else self.f.length * self.f.diameter
        body = np.where(self.tumbling[run], side, self.model.area)
        settled = ~self.moving(t, run)
        h = np.minimum(h, np.where(settled, 1.0, 0.4) * self.mass[run] / (rho * speed * (full + body)))
        for x in times:
            h = np.where(x > t + 1e-10, np.minimum(h, x - t), h)
        return h

    def moving(self, t, run):
        """Whether the fall still changes quickly: no device yet, or one opened less than 6 s ago."""
        latest = np.where(self.opened[:, run], self.full_t[:, run], -INF).max(0)
        return ~(np.isfinite(latest) & (t > latest + 6))

    def first_event(self, t, y, new, h, run):
        share, what = np.ones(len(run)), np.full(len(run), self.NOTHING)

        def consider(rows, f, name):
            p = np.flatnonzero(rows)
            if not len(p):
                return
            rates = self.falling_rates(run[p])
            x = secant(lambda x: f(runge_kutta(rates, t[p], y[p], x * h[p]), run[p]), f(y[p], run[p]), f(new[p], run[p]))
            first = x < share[p]
            share[p[first]], what[p[first]] = x[first], name

        past = self.past_top[run]
        consider(~past & (new[:, 5] < 0), lambda s, r: s[:, 5], self.APOGEE)
        for i in range(len(self.full)):
            ready = past & ~self.fired[i, run] & ~self.gone[i, run]
            consider(ready & (new[:, 2] < self.at_height[i, run]), lambda s, r, i=i: s[:, 2] - self.at_height[i, r],
                     self.HEIGHT + i)
        consider(past & (new[:, 2] < self.ground.at(new[:, 0], new[:, 1])),
                 lambda s, r: s[:, 2] - self.ground.at(s[:, 0], s[:, 1]), self.LANDING)
        return share, what

    def note(self, t, y, run, what):
        top = what == self.APOGEE
        r = run[top]
        self.past_top[r], self.apogee_m[r] = True, y[top, 2]
        for i in range(len(self.full)):
            lagged = ~np.isnan(self.lag[i, r])
            self.at_time[i, r[lagged]] = t[top][lagged] + self.lag[i, r[lagged]]
            below = y[top, 2] <= self.at_height[i, r]
            self.at_time[i, r[below]] = t[top][below]
            at = what == self.HEIGHT + i
            self.at_time[i, run[at]] = t[at]
        down = what == self.LANDING
        r = run[down]
        self.x[r], self.y[r], self.landing_s[r] = y[down, 0], y[down, 1], t[down]
        self.landing_mps[r] = np.sqrt((y[down, 3:6]**2).sum(1))

    def on_time(self, t, y, run):
        """Fires the triggers and opens the devices that are due, in time order within a run."""
        for i, device in enumerate(self.f.devices):
            due = (self.at_time[i, run] <= t + 1e-10) & ~self.fired[i, run] & ~self.gone[i, run]
            r = run[due]
            self.fired[i, r], self.tumbling[r] = True, True
            self.open_t[i, r] = t[due] + self.opening[i, r]
            if device.releases:
                self.gone[:i, r] = True
        for i, device in enumerate(self.f.devices):
            due = (self.open_t[i, run] <= t + 1e-10) & ~self.opened[i, run] & ~self.gone[i, run]
            r = run[due]
            self.opened[i, r] = True
            if not math.isnan(device.fill):
                fill = np.full(len(r), device.fill)
            elif device.kind == "streamer":
                fill = np.zeros(len(r))
            else:
                u, v, _, _ = self.around.at(y[due, 2], r)
                speed = np.sqrt((y[due, 3] - u)**2 + (y[due, 4] - v)**2 + y[due, 5]**2)
                diameter = device.diameter
                if math.isnan(diameter):
                    diameter = math.sqrt(self.model.cds[i] / 0.8 * 4 / math.pi)
                fill = 8 * diameter / speed
            self.open_t[i, r] = t[due]
            self.full_t[i, r] = t[due] + fill * self.d.fill[i, r]
        return t, y, run
