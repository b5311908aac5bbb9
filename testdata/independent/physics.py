"""Air, gravity, wind, motor: the surroundings of one flight, as functions of height or time."""
import bisect
import math

G_STANDARD = 9.80665      # m/s2
R_AIR = 287.05287         # J/(kg K)
R_GEOPOTENTIAL = 6356766.0  # m
R_GRAVITY = 6371000.0     # m
LAPSE, T_SEA, H_TROPOPAUSE = 0.0065, 288.15, 11000.0
RHO_SEA = 1.225           # kg/m3
EXPONENT = G_STANDARD / (R_AIR * LAPSE)


def geopotential(h):
    return R_GEOPOTENTIAL * h / (R_GEOPOTENTIAL + h)


def standard_temperature(H):
    return T_SEA - LAPSE * min(H, H_TROPOPAUSE)


class Air:
    """U.S. Standard Atmosphere 1976 up to 20 km, shifted to the pad's temperature and QNH."""

    def __init__(self, f):
        self.elevation = f.elevation
        H = geopotential(f.elevation)
        t = standard_temperature(H)
        self.shift = 0.0 if math.isnan(f.temperature) else f.temperature - t
        self.t_pad = t + self.shift
        self.p_pad = f.qnh * (t / T_SEA) ** EXPONENT
        self.t_top = T_SEA + self.shift - LAPSE * H_TROPOPAUSE
        self.p_top = self.p_pad * (self.t_top / self.t_pad) ** EXPONENT

    def at(self, z):
        """Density kg/m3 and speed of sound m/s."""
        H = geopotential(self.elevation + z)
        if H <= H_TROPOPAUSE:
            t = T_SEA + self.shift - LAPSE * H
            p = self.p_pad * (t / self.t_pad) ** EXPONENT
        else:
            t = self.t_top
            p = self.p_top * math.exp(-G_STANDARD * (H - H_TROPOPAUSE) / (R_AIR * t))
        return p / (R_AIR * t), math.sqrt(1.4 * R_AIR * t)


class Gravity:
    """Somigliana's normal gravity at the pad's latitude (WGS 84), falling with elevation."""

    def __init__(self, f):
        s2 = math.sin(math.radians(f.lat)) ** 2
        g0 = 9.7803253359 * (1 + 0.00193185265241 * s2) / math.sqrt(1 - 0.00669437999013 * s2)
        self.a, self.b = g0 * (1 - 2 * f.elevation / R_GRAVITY), 2 * g0 / R_GRAVITY

    def at(self, z):
        return self.a - self.b * z


class Wind:
    """The profile of the flight file; then scale, turn and shape of the run."""

    def __init__(self, f, draw):
        self.z0 = f.roughness
        self.levels = f.levels
        self.heights = [l[0] for l in f.levels]
        self.veer = f.veer if f.lat >= 0 else -f.veer
        self.scale = draw.wind_scale
        # A turn clockwise by a takes (u, v) to (u cos a + v sin a, v cos a - u sin a).
        self.c, self.s = math.cos(draw.wind_turn), math.sin(draw.wind_turn)
        self.shape = draw.shape
        z1, self.u1, self.v1 = f.levels[0]
        if z1 <= self.z0:
            raise ValueError("the lowest wind level lies within the roughness")
        if len(f.levels) == 1:
            self.one = True
            self.unit = 1 / self._speed(z1)
            self.turn1 = self._turn(z1)
        else:
            self.one = False
            self.unit = 1 / math.log(z1 / self.z0)

    def _speed(self, z):
        """One level: speed over that at z = e z0, by the log law to 60 m and the 1/7 power to 600 m."""
        if z <= self.z0:
            return 0.0
        if z <= 60:
            return math.log(z / self.z0)
        return math.log(60 / self.z0) * (min(z, 600.0) / 60) ** (1 / 7)

    def _turn(self, z):
        return self.veer * min(max((z - 60) / 540, 0.0), 1.0)

    def base(self, z):
        if self.one:
            k, a = self._speed(z) * self.unit, self._turn(z) - self.turn1
            c, s = math.cos(a), math.sin(a)
            return k * (self.u1 * c + self.v1 * s), k * (self.v1 * c - self.u1 * s)
        h = self.heights
        if z <= h[0]:
            k = math.log(z / self.z0) * self.unit if z > self.z0 else 0.0
            return k * self.u1, k * self.v1
        if z >= h[-1]:
            return self.levels[-1][1], self.levels[-1][2]
        i = bisect.bisect_right(h, z)
        (za, ua, va), (zb, ub, vb) = self.levels[i - 1], self.levels[i]
        k = (z - za) / (zb - za)
        return ua + k * (ub - ua), va + k * (vb - va)

    def at(self, z):
        """Components toward east and toward north, m/s."""
        u, v = self.base(z)
        u, v = self.scale * (u * self.c + v * self.s), self.scale * (v * self.c - u * self.s)
        if self.shape is not None:
            dz, su, sv = self.shape
            x = min(max(z / dz, 0.0), len(su) - 1.0)
            i = min(int(x), len(su) - 2)
            k = x - i
            u += su[i] + k * (su[i + 1] - su[i])
            v += sv[i] + k * (sv[i + 1] - sv[i])
        return u, v


class Motor:
    """Thrust linear between the rows; propellant leaves in proportion to the impulse so far."""

    def __init__(self, f, factor):
        self.t = [r[0] for r in f.thrust]
        self.raw = [r[1] for r in f.thrust]
        self.factor = factor
        self.sum = [0.0]
        for i in range(1, len(self.t)):
            step = (self.t[i] - self.t[i - 1]) * (self.raw[i] + self.raw[i - 1]) / 2
            self.sum.append(self.sum[-1] + step)
        self.start, self.burnout = self.t[0], self.t[-1]

    def at(self, t, segment):
        """Thrust N and share of the impulse delivered, on the segment between two rows."""
        ta, fa = self.t[segment], self.raw[segment]
        slope = (self.raw[segment + 1] - fa) / (self.t[segment + 1] - ta)
        dt = t - ta
        done = self.sum[segment] + dt * (fa + slope * dt / 2)
        return self.factor * (fa + slope * dt), done / self.sum[-1]
