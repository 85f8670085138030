"""Plates of crystals with two optic axes, of crystals with one that leans, and of quartz that turns light, by a 4x4 (Berreman) solver, pyElli; its version stands in ../requirements.txt.

    python make_crystals.py       # a few seconds on one core

A wave of the tangential component s crosses a plate in four ways; the solver's matrix for the plate has their normal components k_z (over that of
a vacuum wave) as eigenvalues and their fields as eigenvectors. Path differences, vibrations, melatopes and rings follow from these alone; nothing
here uses the program's formulas. Writes plates.json, askew.json, figures.json, active.json and active-askew.json.
"""
import json
import math
import warnings
from pathlib import Path

import numpy as np
from scipy.optimize import brentq

warnings.filterwarnings("ignore")
import elli  # noqa: E402

HERE = Path(__file__).parent
NM = 589.3


def index(value):
    return elli.ConstantRefractiveIndex(value)


def axes(normal, azimuth):
    """Columns: X, Y, Z of the indicatrix in the frame of the stage. Z as seen in the plate lies at the azimuth; where it stands upright, Y does."""
    up = np.array(normal, float) / np.linalg.norm(normal)
    lies = np.eye(3)[2] - up[2] * up
    if np.linalg.norm(lies) < 1e-6:
        lies = np.eye(3)[1] - up[1] * up
    east = lies / np.linalg.norm(lies)
    frame = np.array([east, np.cross(up, east), up])
    c, s = math.cos(azimuth), math.sin(azimuth)
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]) @ frame


def permittivity(indices, normal, azimuth, ray_azimuth):
    """In the frame of the ray: x along its tangential component."""
    crystal = elli.BiaxialMaterial(*(index(n) for n in indices))
    c, s = math.cos(ray_azimuth), math.sin(ray_azimuth)
    crystal.set_rotation(np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]]) @ axes(normal, azimuth))
    return crystal.get_tensor(NM)


def upward(epsilon, s):
    """k_z of the two waves that go up, the slow one first, and their D across p and s of their own normals."""
    matrix = elli.Solver4x4.build_delta_matrix(s, epsilon)[0]
    values, fields = np.linalg.eig(matrix)
    order = np.argsort(-values.real)[:2]
    e = epsilon[0]
    vibrations = []
    for k in order:
        kz, (ex, ey, hx, hy) = values[k].real, fields[:, k]
        # The normal component of E, from the normal component of Maxwell's equation for H.
        ez = (-s * hy - e[2, 0] * ex - e[2, 1] * ey) / e[2, 2]
        d = e @ np.array([ex, ey, ez])
        length = math.hypot(s, kz)
        assert abs(d @ np.array([s, 0, kz])) < 1e-9 * np.linalg.norm(d) * length, "D lies across the normal"
        p = np.array([kz, 0, -s]) / length
        vibrations.append(np.array([d @ p, d[1]]) / np.linalg.norm(d))
    return values[order].real, vibrations


def direction(d):
    """Azimuth of a linear vibration from p, 0 to pi."""
    d = d * np.exp(-1j * np.angle(d[np.argmax(abs(d))]))
    return math.atan2(d[1].real, d[0].real) % math.pi


def mean_direction(slow, fast):
    """The slow vibration's azimuth and the fast one's less a right angle, halfway between."""
    a, b = direction(slow), direction(fast) - math.pi / 2
    off = (b - a + math.pi / 2) % math.pi - math.pi / 2
    return (a + off / 2) % math.pi


MUSCOVITE, TOPAZ, ARAGONITE, STRONG = (1.564, 1.5985, 1.6025), (1.62, 1.623, 1.63), (1.5305, 1.6805, 1.6855), (1.5, 1.7, 2.0)
CUTS = [("x", (1, 0, 0)), ("y", (0, 1, 0)), ("z", (0, 0, 1)), ("oblique", (0.9, 0.1, -0.4)), ("oblique", (0.3, -0.5, 0.8)), ("oblique", (-0.2, 0.9, 0.5))]


def plates():
    for indices in (MUSCOVITE, TOPAZ, ARAGONITE, STRONG):
        for name, normal in CUTS:
            for s, azimuth_deg in [(0.0, 0), (0.2, 10), (0.5, 77), (0.5, 190), (0.8, 260), (0.95, 331), (1.25, 45)]:
                epsilon = permittivity(indices, normal, math.radians(25), math.radians(azimuth_deg))
                (slow, fast), (d_slow, d_fast) = upward(epsilon, s)
                yield {"indices": indices, "cut": name, "normal": normal, "azimuth_deg": 25, "s": s, "ray_deg": azimuth_deg,
                       "slow": slow, "fast": fast, "slow_from_p_deg": math.degrees(mean_direction(d_slow, d_fast))}


UNIAXIAL = {"quartz": (1.5442, 1.5533), "calcite": (1.6584, 1.4864), "strong": (1.5, 2.0)}


def askew():
    """One optic axis at an angle to the plate's normal, without optical activity and, for quartz, with it. The ordinary wave vibrates across the axis."""
    for name, (o, e) in UNIAXIAL.items():
        for tilt_deg in (5, 30, 55, 80):
            tilt, azimuth_deg = math.radians(tilt_deg), 35
            normal = (math.sin(tilt), 0, math.cos(tilt))
            for s, ray_deg in [(0.0, 0), (0.2, 10), (0.5, 77), (0.5, 215), (0.8, 260), (0.95, 331), (1.25, 45)]:
                turned = math.radians(ray_deg)
                epsilon = permittivity((o, o, e), normal, math.radians(azimuth_deg), turned)
                kz, ds = upward(epsilon, s)
                lean = math.radians(azimuth_deg - ray_deg)
                axis = np.array([math.sin(tilt) * math.cos(lean), math.sin(tilt) * math.sin(lean), math.cos(tilt)])
                across = []
                for k, (p, along_s) in zip(kz, ds):
                    d = p * np.array([k, 0, -s]) / math.hypot(s, k) + along_s * np.array([0, 1, 0])
                    across.append(abs(d @ axis))
                ordinary = int(np.argmin(across))
                assert across[ordinary] < 1e-6 * across[1 - ordinary] or tilt_deg == 5, "one wave vibrates across the axis"
                yield {"name": name, "ordinary_index": o, "extraordinary_index": e, "axis_from_normal_deg": tilt_deg, "azimuth_deg": azimuth_deg, "s": s,
                       "ray_deg": ray_deg, "ordinary": kz[ordinary], "extraordinary": kz[1 - ordinary],
                       "extraordinary_from_p_deg": math.degrees(mean_direction(ds[1 - ordinary], ds[ordinary]))}


def middle(least, largest, two_v_deg, positive):
    """The middle index that goes with the acute angle between the optic axes (closed form; checked below by the solver's own melatope)."""
    v = math.radians(two_v_deg / 2) if positive else math.pi / 2 - math.radians(two_v_deg / 2)
    a, g = least**2, largest**2
    return math.sqrt(a * g / (a + math.cos(v) ** 2 * (g - a)))


CATALOG = {  # least, largest, 2V, positive: the catalog's, which are compared with these
    "muscovite": (1.564, 1.6025, 38.5, False), "gypsum": (1.5205, 1.5296, 58, True), "topaz": (1.62, 1.63, 58, True),
    "aragonite": (1.5305, 1.6855, 18, False), "anhydrite": (1.5705, 1.6135, 43, True), "baryte": (1.636, 1.6475, 38, True),
}
THICKNESS_UM = {"muscovite": 100, "gypsum": 400, "topaz": 400, "aragonite": 60, "anhydrite": 60, "baryte": 300}


def figures():
    """A plate across the acute bisectrix, the axial plane at azimuth 0: where the axes come out, and the dark rings in the axial plane and across."""
    for name, (least, largest, two_v_deg, positive) in CATALOG.items():
        indices = (least, middle(least, largest, two_v_deg, positive), largest)
        normal = (0, 0, 1) if positive else (1, 0, 0)
        # The axial plane is that of X and Z: with Z upright, Y is named by the azimuth and X lies across it.
        azimuth = math.pi / 2 if positive else 0.0
        um = THICKNESS_UM[name]

        def orders(s, ray_azimuth):
            (slow, fast), _ = upward(permittivity(indices, normal, azimuth, ray_azimuth), s)  # noqa: B023
            return um * 1000 * (slow - fast) / NM  # noqa: B023

        # The two roots meet where their difference is least. It grows on either side like a straight line: given a sign, it is a smooth function, of
        # which the zero is found from points where the solver keeps its digits.
        grid = np.linspace(0, 1.2, 1201)
        at = grid[np.argmin([orders(s, 0.0) for s in grid])]
        beside = np.array([-0.04, -0.03, -0.02, -0.01, 0.01, 0.02, 0.03, 0.04])
        signed = [math.copysign(orders(at + off, 0.0), off) for off in beside]
        through = np.polynomial.Polynomial.fit(beside, signed, 7)
        melatope = at + brentq(through, -0.01, 0.01, xtol=1e-14)
        rings = []
        for order in range(1, 5):
            for side, (start, end) in {"outside": (melatope, 0.95), "inside": (melatope, 0.0)}.items():
                if orders(end, 0.0) > order:
                    rings.append({"where": side, "order": order, "na": brentq(lambda s: orders(s, 0.0) - order, start, end, xtol=1e-13)})  # noqa: B023
            first = orders(0.0, 0.0)
            if first < order < orders(0.95, math.pi / 2):
                rings.append({"where": "across", "order": order, "na": brentq(lambda s: orders(s, math.pi / 2) - order, 0, 0.95, xtol=1e-13)})  # noqa: B023
        yield {"material": name, "thickness_um": um, "wavelength_nm": NM, "two_v_deg": two_v_deg, "positive": positive,
               "indices": indices, "melatope_na": melatope, "rings": rings}


def quartz(nm):
    l2 = (nm / 1000) ** 2
    o = math.sqrt(1.28604141 + 1.07044083 * l2 / (l2 - 1.00585997e-2) + 1.10202242 * l2 / (l2 - 100))
    e = math.sqrt(1.28851804 + 1.09509924 * l2 / (l2 - 1.02101864e-2) + 1.15662475 * l2 / (l2 - 100))
    turned = 9.5639 / (l2 - 0.0127493) - 2.3113 / (l2 - 0.000974) - 0.1905
    return o, e, turned


ACROSS_OVER_ALONG = -0.45


def active():
    """D = eps E + i g x E (waves exp(i(kz - wt))): along the axis the right circular wave, (1, -i), has n^2 = n_o^2 - g. g lies along the wave's normal
    and is G33 cos^2 + G11 sin^2 of its angle to the axis; the normal taken is the mean of both waves'."""
    for nm in (450.0, 589.3, 700.0):
        o, e, turned = quartz(nm)
        # Degrees per mm to (n_L - n_R), and to the gyration along the axis.
        circular = math.radians(turned) / 1e6 * nm / math.pi
        gyration = circular * o
        for s in (0.0, 0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.8):
            plain = np.diag([o * o, o * o, e * e]).astype(complex)[None]
            (a, b), _ = upward(plain, s)
            mean = (a + b) / 2
            normal = np.array([s, 0, mean]) / math.hypot(s, mean)
            g = gyration * (normal[2] ** 2 + ACROSS_OVER_ALONG * normal[0] ** 2) * normal
            cross = np.array([[0, -g[2], g[1]], [g[2], 0, -g[0]], [-g[1], g[0], 0]])
            (slow, fast), (d, _) = upward(plain + 1j * cross[None], s)
            # Of the slow vibration: 2 Im p s*, and |p|^2 - |s|^2.
            share = 2 * (d[0] * np.conj(d[1])).imag
            yield {"wavelength_nm": nm, "s": s, "difference": slow - fast, "circular_share": round(share, 10),
                   "linear_share": round(abs(d[0]) ** 2 - abs(d[1]) ** 2, 10), "deg_per_mm": turned}


def active_askew():
    """The same for an axis that leans: g along the mean of both waves' normals, as large as their angle to the axis makes it."""
    nm = NM
    o, e, turned = quartz(nm)
    gyration = math.radians(turned) / 1e6 * nm / math.pi * o
    for tilt_deg in (3, 15, 40):
        tilt = math.radians(tilt_deg)
        for s, ray_deg in [(0.0, 0), (0.05, 20), (0.1, 200), (0.25, 90), (0.4, 5), (0.5, 155)]:
            plain = permittivity((o, o, e), (math.sin(tilt), 0, math.cos(tilt)), math.radians(30), math.radians(ray_deg))
            (a, b), _ = upward(plain, s)
            mean = (a + b) / 2
            normal = np.array([s, 0, mean]) / math.hypot(s, mean)
            lean = math.radians(30 - ray_deg)
            along = normal @ np.array([math.sin(tilt) * math.cos(lean), math.sin(tilt) * math.sin(lean), math.cos(tilt)])
            g = gyration * (along**2 + ACROSS_OVER_ALONG * (1 - along**2)) * normal
            cross = np.array([[0, -g[2], g[1]], [g[2], 0, -g[0]], [-g[1], g[0], 0]])
            (slow, fast), (d, _) = upward(plain + 1j * cross[None], s)
            # Of the slow vibration: its Stokes parameters in p and s.
            q, u = abs(d[0]) ** 2 - abs(d[1]) ** 2, 2 * (d[0] * np.conj(d[1])).real
            yield {"wavelength_nm": nm, "axis_from_normal_deg": tilt_deg, "azimuth_deg": 30, "s": s, "ray_deg": ray_deg, "difference": slow - fast,
                   "circular_share": round(2 * (d[0] * np.conj(d[1])).imag, 10), "s1": round(q, 10), "s2": round(u, 10)}


def write(name, records):
    def plain(value):
        if isinstance(value, (tuple, list)):
            return [plain(v) for v in value]
        if isinstance(value, dict):
            return {key: plain(v) for key, v in value.items()}
        return float(value) if isinstance(value, np.floating) else value
    lines = ",\n".join("  " + json.dumps(plain(record)) for record in records)
    (HERE / name).write_text('{\n "records": [\n' + lines + "\n ]\n}\n")


def main():
    write("plates.json", plates())
    write("askew.json", askew())
    write("figures.json", figures())
    write("active.json", active())
    write("active-askew.json", active_askew())


main()
