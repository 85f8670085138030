"""Photographs of strained, otherwise ideal stands, and the strain between the polars from them, zone by zone.

The pictures are computed here by Jones calculus, without noise, for parts without geometry: every ray sees the same polars, and lenses only retard.
The map is found by least squares zone by zone: within a zone both components of the strain are polynomials of the second degree of the place, and all
pixels of the zone in all pictures are compared with Jones calculus of one retarder. Where another lens is strained too, its strain is held at what it
is, as a retarder that the light crosses before: two retarders whose axes differ also turn the light, so that one retarder for both is off by some per
cent. What is told is their sum. What the program does is another thing: one surface over the whole disc, from the zones' means.

Writes maps/NAME-*.png, maps/NAME.csv (readings) and maps/NAME.json (what is expected).
"""
import json
import math
import os

import numpy as np
from scipy.optimize import least_squares

import photographs as ph

HERE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "maps")
NM = 546.1
K1, K2 = 0.8, 1e-4
# The plate beside which slow and fast axes are told apart; it stands behind the objective.
PLATE_NM, PLATE_DEG = 60.0, 45.0
RINGS, SECTORS = 5, 16


# ------------------------------------------------------------------ Jones calculus on arrays

def retarder(u, v):
    """2 x 2 matrices of retarders whose path difference times (cos, sin) of twice the slow azimuth is (u, v), nm. The slow axis gathers more phase."""
    nm = np.hypot(u, v)
    half = math.pi * nm / NM
    with np.errstate(invalid="ignore", divide="ignore"):
        c, s = np.where(nm > 0, u / nm, 1.0), np.where(nm > 0, v / nm, 0.0)
    co, si = np.cos(half), 1j * np.sin(half)
    return [[co + si * c, si * s], [si * s, co - si * c]]


def times(a, b):
    return [[a[i][0] * b[0][j] + a[i][1] * b[1][j] for j in (0, 1)] for i in (0, 1)]


def polar(azimuth):
    c, s = math.cos(azimuth), math.sin(azimuth)
    along = np.array([[c * c, c * s], [c * s, s * s]])
    m = math.sqrt(K1) * along + math.sqrt(K2) * (np.eye(2) - along)
    return [[m[0, 0], m[0, 1]], [m[1, 0], m[1, 1]]]


def light(between, lower, upper):
    m = times(times(polar(upper), between), polar(lower))
    return 0.5 * sum(abs(m[i][j]) ** 2 for i in (0, 1) for j in (0, 1))


def plate():
    a = math.radians(PLATE_DEG)
    return retarder(np.float64(PLATE_NM * math.cos(2 * a)), np.float64(PLATE_NM * math.sin(2 * a)))


def pictured(strains, setting):
    """Light as it is set and with the polars parallel, plate out, of strains that the light crosses one after the other."""
    turned, aside, with_plate = setting
    lower = math.radians(turned)
    between = [[1.0, 0.0], [0.0, 1.0]]
    for u, v in strains:
        between = times(retarder(u, v), between)
    bright = light(between, lower, lower)
    if with_plate:
        between = times(plate(), between)
    return light(between, lower, lower + math.pi / 2 + math.radians(aside)), bright


# ------------------------------------------------------------------ the stands

def uniform(nm, deg):
    a = math.radians(deg)
    return lambda x, y: (nm * math.cos(2 * a) + 0 * x, nm * math.sin(2 * a) + 0 * x)


def radial(edge):
    """Slow along the radius, growing with the square of it."""
    return lambda x, y: (edge * (x * x - y * y), edge * 2 * x * y)


def uneven(x, y):
    """A strain without any symmetry, of the third degree."""
    return 9 + 5 * x - 4 * y + 6 * x * y - 5 * x ** 3, -4 + 6 * y + 5 * x * x - 4 * x * y * y


def opposite(strain, scale):
    """Of a condenser: rays cross it on the other side of the axis; `scale` is the disc's aperture over the condenser's."""
    return lambda x, y: strain(-scale * x, -scale * y)


TURNS = [(t, 0.0, False) for t in (0.0, 22.5, 45.0, 67.5)]
CASES = {
    "even-and-radial": dict(strains=[uniform(8, 30), radial(15)],
                            settings=TURNS + [(0.0, 0.0, True), (22.5, 0.0, True)], flip=False, turn=0.0),
    "two-lenses": dict(strains=[opposite(radial(30), 0.5 / 0.8), uniform(7, 70)],
                       settings=[(0.0, 4.0, False), (0.0, -4.0, False), (30.0, 0.0, False), (45.0, 4.0, False),
                                 (60.0, 0.0, False), (15.0, 0.0, True)], flip=True, turn=20.0),
    "uneven": dict(strains=[uneven], settings=TURNS + [(0.0, 3.0, True), (45.0, 0.0, True)], flip=False, turn=-35.0),
}
SIZE, RADIUS, CENTRE = (150, 146), 66.7, (76.3, 71.9)


def write_picture(name, values):
    """The exposure in parts of full scale over the light."""
    exposure = float("%.4g" % (0.9 / values.max()))
    counts = np.floor(values * exposure * 65535 + 0.5).astype(np.uint16)
    with open(os.path.join(HERE, name), "wb") as f:
        f.write(ph.png_bytes(counts))
    return exposure


# ------------------------------------------------------------------ least squares

def terms(x, y):
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y])


def zone_fit(x, y, ratios, settings, starts, held):
    """The polynomials of a zone: ratios[setting][pixel] is the light over the parallel light; `held` are strains that the light crosses before."""
    t = terms(x, y)
    known = np.stack(ratios)

    def off(p):
        u, v = p[:6] @ t, p[6:] @ t
        out = []
        for setting, seen in zip(settings, known):
            dark, bright = pictured(held + [(u, v)], setting)
            out.append((dark / bright - seen) / np.mean(seen))
        return np.concatenate(out)

    def rough(p):
        return off(np.concatenate([[p[0]], np.zeros(5), [p[1]], np.zeros(5)]))

    exact = dict(xtol=1e-13, ftol=1e-13, gtol=1e-13)
    even = min((least_squares(rough, start) for start in starts), key=lambda found: found.cost)
    start = np.zeros(12)
    start[0], start[6] = even.x
    return least_squares(off, start, **exact)


def make(name, strains, settings, flip, turn):
    disc = ph.Disc(CENTRE[0], CENTRE[1], RADIUS)
    cols, rows = SIZE
    px, py = np.meshgrid(np.arange(cols) + 0.5, np.arange(rows) + 0.5)
    rho, az = ph.rho_azimuth(disc, px, py, flip, turn)
    x, y = rho * np.cos(az), rho * np.sin(az)
    zones = ph.zone_map((rows, cols), disc, RINGS, SECTORS, flip, turn)
    cover = np.clip((1 - rho) * RADIUS + 0.5, 0, 1)
    sums = [s(x, y) for s in strains]
    ratios, lines = [], []
    parallel = {}
    for n, setting in enumerate(settings):
        dark, bright = pictured(sums, setting)
        turned, aside, with_plate = setting
        if turned not in parallel:
            file = "%s-p%g.png" % (name, turned)
            parallel[turned] = (file, write_picture(file, bright * cover))
        file = "%s-%d.png" % (name, n)
        exposure = write_picture(file, dark * cover)
        # What the pictures say, not what was computed.
        crossed = ph.load(os.path.join(HERE, file)).raw[:, :, 0] / 65535 / exposure
        other, of_other = parallel[turned]
        ratios.append(crossed / np.maximum(ph.load(os.path.join(HERE, other)).raw[:, :, 0] / 65535 / of_other, 1e-9))
        lines.append([file, other, exposure, of_other, CENTRE[0], CENTRE[1], RADIUS, 90 + aside, turned,
                      "plate" if with_plate else ""])
    with open(os.path.join(HERE, name + ".csv"), "w") as f:
        f.write("photo,photo_parallel,exposure_s,exposure_parallel_s,center_x,center_y,radius,analyzer_deg,polars_turned_deg,in,"
                "error_percent\n")
        for line in lines:
            f.write(",".join(str(cell) for cell in line) + ",1\n")
    out, worst, guess = [], 0.0, None
    truth = [sum(s(x, y)[k] for s in strains) for k in (0, 1)]
    for z in range(RINGS * SECTORS):
        m = zones == z
        cx, cy = float(x[m].mean()), float(y[m].mean())
        # From all sides in the first zone; then also from the zone before.
        sides = [(r, a) for r in (6.0, 20.0) for a in np.arange(8) * math.pi / 4] if guess is None else [(8.0, a) for a in np.arange(4) * math.pi / 2]
        starts = [(r * math.cos(a), r * math.sin(a)) for r, a in sides] + ([guess] if guess else [])
        before = [(u[m], v[m]) for u, v in sums[:-1]]
        best = zone_fit(x[m] - cx, y[m] - cy, [r[m] for r in ratios], settings, starts, before)
        guess = (best.x[0], best.x[6])
        off = math.sqrt(2 * best.cost / (m.sum() * len(settings)))
        t = terms(x[m] - cx, y[m] - cy)
        # Strains that are held are polynomials of the second degree too.
        both = [best.x[6 * k:6 * k + 6] + sum(np.linalg.lstsq(t.T, strain[k], rcond=None)[0] for strain in before) for k in (0, 1)]
        miss = np.hypot(both[0] @ t - truth[0][m], both[1] @ t - truth[1][m]).max()
        worst = max(worst, miss)
        out.append({"zone": z, "x": cx, "y": cy, "u_nm": [float(c) for c in both[0]], "v_nm": [float(c) for c in both[1]],
                    "misfit": off})
    rms = math.sqrt(float(np.mean((truth[0] ** 2 + truth[1] ** 2)[zones >= 0])))
    print("%s: %d pictures, rms strain %.2f nm, worst pixel off the truth by %.3f nm, misfit up to %.5f"
          % (name, len(settings), rms, worst, max(o["misfit"] for o in out)))
    with open(os.path.join(HERE, name + ".json"), "w") as f:
        json.dump({"case": name, "about": "u + iv = path difference times exp(2 i slow azimuth), nm; terms 1, x, y, xx, xy, yy of the "
                   "place less x, y, in units of the disc's radius", "flip": flip, "turn_deg": turn, "rms_nm": rms,
                   "zones": [{k: o[k] for k in ("zone", "x", "y", "u_nm", "v_nm")} for o in out]}, f, indent=1)
        f.write("\n")


if __name__ == "__main__":
    os.makedirs(HERE, exist_ok=True)
    for name, case in CASES.items():
        make(name, **case)
