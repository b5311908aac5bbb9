"""Air, wind and ground around many runs at once, from tables in height."""
import numpy as np

from flight import Draw
from physics import Wind

STEP = 10.0          # m, heights of the tabulated air and of the wind shape
FINE, FINE_TOP = 0.01, 20.0  # m, heights of the tabulated wind near the ground; 1 m above


class Surroundings:
    """Air, gravity and wind by height for a batch, tabulated."""

    def __init__(self, model, d):
        nodes = d.shape_u.shape[1]
        low = 60  # nodes below the pad, for ground that falls away
        self.low, self.nodes = low, nodes
        air = [model.air.at((i - low) * STEP) for i in range(nodes + low)]
        self.rho, self.sound = np.array(air).T
        self.gravity = model.gravity
        wind = Wind(model.f, Draw())
        fine = np.arange(0, FINE_TOP, FINE)
        heights = np.concatenate([fine, np.arange(FINE_TOP, nodes * STEP + 1, 1.0)])
        self.fine = len(fine)
        self.base = np.array([wind.base(z) for z in heights]).T
        self.c, self.s = d.wind_scale * np.cos(d.wind_turn), d.wind_scale * np.sin(d.wind_turn)
        self.du, self.dv = d.shape_u, d.shape_v

    def at(self, z, run):
        """Wind east and north, density, sound; z (n,), run (n,) the rows."""
        x = np.minimum(np.maximum(z / STEP, -self.low), self.nodes - 1.001)
        j = (x + self.low).astype(int)
        i = j - self.low
        k = x - i
        rho = self.rho[j] + k * (self.rho[j + 1] - self.rho[j])
        sound = self.sound[j] + k * (self.sound[j + 1] - self.sound[j])
        y = np.where(z < FINE_TOP, z / FINE, self.fine + z - FINE_TOP)
        y = np.minimum(np.maximum(y, 0), self.base.shape[1] - 1.001)
        m = y.astype(int)
        q = y - m
        u = self.base[0, m] + q * (self.base[0, m + 1] - self.base[0, m])
        v = self.base[1, m] + q * (self.base[1, m + 1] - self.base[1, m])
        c, s = self.c[run], self.s[run]
        k = np.where(i < 0, 0.0, k)
        i = np.maximum(i, 0)
        su, sv = self.du[run, i], self.dv[run, i]
        return (u * c + v * s + su + k * (self.du[run, i + 1] - su),
                v * c - u * s + sv + k * (self.dv[run, i + 1] - sv), rho, sound)


class Ground:
    """Height of the ground above the pad; latitude and longitude as cubics of east and north within 8 km."""

    def __init__(self, model):
        self.terrain = model.f.terrain
        if self.terrain is None:
            return
        self.elevation = model.f.elevation
        xs = np.linspace(-8000, 8000, 9)
        x, y = (a.ravel() for a in np.meshgrid(xs, xs))
        places = np.array([model.place(a, b) for a, b in zip(x, y)])
        self.cubic = np.linalg.lstsq(self._powers(x, y), places, rcond=None)[0]
        self.rows = np.array(self.terrain.rows)

    @staticmethod
    def _powers(x, y):
        x, y = x / 1000, y / 1000
        return np.column_stack([x**i * y**j for i in range(4) for j in range(4 - i)])

    def at(self, x, y):
        if self.terrain is None:
            return np.zeros_like(x)
        lat, lon = (self._powers(x, y) @ self.cubic).T
        fx, fy = (lon - self.terrain.west) / self.terrain.step - 0.5, (lat - self.terrain.south) / self.terrain.step - 0.5
        i = np.clip(fx.astype(int), 0, self.rows.shape[1] - 2)
        j = np.clip(fy.astype(int), 0, self.rows.shape[0] - 2)
        fx, fy = fx - i, fy - j
        r = self.rows
        return ((r[j, i] * (1 - fx) + r[j, i + 1] * fx) * (1 - fy)
                + (r[j + 1, i] * (1 - fx) + r[j + 1, i + 1] * fx) * fy) - self.elevation
