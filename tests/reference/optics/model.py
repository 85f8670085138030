"""Independent reference of the optical model: plain Python and NumPy, double precision.

Written from the first description of the model alone (rays, elements, what comes out; tests/published/SOURCES.md) and, for condensers of two lenses
and joined sheets, from a description of what they do.  One plain function per
element, its formula beside it.  Arrays of Jones matrices have shape (2, 2, L, R): L wavelengths,
R rays; an axis that does not matter has length 1 and broadcasts.

    python model.py SCENARIO.toml [--reading NAME=VALUE ...] [--grid NS,NPHI] [--tolerance 1e-9]
"""
import argparse
import copy
import csv
import json
import math
import tomllib
from pathlib import Path

import numpy as np
from scipy.interpolate import CubicHermiteSpline

# ----------------------------------------------------------------------------------------------
# Readings: every choice that the page leaves open.  The first value is the reading taken FIRST.
# See readings.md.
# ----------------------------------------------------------------------------------------------
READINGS = {
    "clamp_slow": ("tension", "compression"),
    "stray": ("crossed-only", "both", "mueller", "depolarised-share"),
    "specimen_in_crossed": ("yes", "no"),
    "circular_rule": ("two-retarders", "any-retarder", "never"),
    "circular_parallel": ("luminous-maximum", "maximum-per-wavelength"),
    "map_interpolation": ("components", "bilinear", "separate"),
    "uniaxial_azimuth": ("optic-axis", "slow"),
    "uniaxial_mean_index": ("half-sum", "two-thirds-ordinary"),
    "missing_lens": ("object", "analyzer-in-image", "collimated"),
    "line_shape": ("gaussian-fwhm", "gaussian-sigma", "rectangle", "triangle-fwhm"),
    "sheet_beyond_table": ("hold", "linear"),
    "sheet_interpolation": ("log-k2", "linear-k2", "log-both"),
    "cie_a": ("table", "formula"),
    "quartz_data": ("ghosh", "radhakrishnan"),
    "b270_index": ("fit", "linear-hold"),
    "no_surfaces_strain": ("kept", "dropped"),
    "ideal_sheet_angle": ("film-index", "medium"),
    "observer_sum": ("plain",),
}


def first_readings():
    return {name: values[0] for name, values in READINGS.items()}


# ----------------------------------------------------------------------------------------------
# Materials (check values, section B; lambda in micrometres inside)
# ----------------------------------------------------------------------------------------------
def sellmeier_1(a0, *pairs):
    """n^2 - 1 = A0 + sum B l^2 / (l^2 - C^2)"""
    def index(nm):
        l2 = (np.asarray(nm, float) / 1000.0) ** 2
        return np.sqrt(1 + a0 + sum(b * l2 / (l2 - c * c) for b, c in pairs))
    return index


def sellmeier_2(a0, *pairs):
    """n^2 - 1 = A0 + sum B l^2 / (l^2 - C)"""
    def index(nm):
        l2 = (np.asarray(nm, float) / 1000.0) ** 2
        return np.sqrt(1 + a0 + sum(b * l2 / (l2 - c) for b, c in pairs))
    return index


def soda_lime(nm):
    l2 = (np.asarray(nm, float) / 1000.0) ** 2
    return 1.5130 - 0.003169 * l2 + 0.003962 / l2


def pmma(nm):
    l2 = (np.asarray(nm, float) / 1000.0) ** 2
    return np.sqrt(2.1778 + 6.1209e-3 * l2 - 1.5004e-3 * l2**2 + 2.3678e-2 / l2
                   - 4.2137e-3 / l2**2 + 7.3417e-4 / l2**3 - 4.5042e-5 / l2**4)


B270_NM = np.array([435.83, 479.99, 486.13, 546.07, 587.56, 589.29, 643.85, 656.27])
B270_N = np.array([1.5341, 1.5297, 1.5292, 1.5251, 1.5230, 1.5229, 1.5207, 1.5203])


def b270_fit(nm):
    """n = a + b l^2 + c / l^2, least squares over the eight catalogue points."""
    def columns(x):
        l2 = (np.asarray(x, float) / 1000.0) ** 2
        return np.stack([np.ones_like(l2), l2, 1 / l2], axis=-1)
    coefficients, *_ = np.linalg.lstsq(columns(B270_NM), B270_N, rcond=None)
    return columns(nm) @ coefficients


GLASS = {
    "n-bk7": sellmeier_2(0, (1.03961212, 0.00600069867), (0.231792344, 0.0200179144), (1.01046945, 103.560653)),
    "sf57": sellmeier_2(0, (1.81651371, 0.0143704198), (0.428893641, 0.0592801172), (1.07186278, 121.419942)),
    "fused silica": sellmeier_1(0, (0.6961663, 0.0684043), (0.4079426, 0.1162414), (0.8974794, 9.896161)),
    "borofloat 33": sellmeier_1(0.3542, (0.78657, 0.10856), (0.18285, 4.427)),
    "soda-lime": soda_lime,
    "pmma": pmma,
    "polycarbonate": sellmeier_2(0, (1.4182, 0.021304)),
}
# Stress-optic coefficients, Brewster (section C; a range is taken at its middle)
STRESS_OPTIC = {"b270": 2.75, "n-bk7": 2.77, "sf57": 0.02, "fused silica": 3.45, "borofloat 33": 4.0,
                "soda-lime": 2.65, "pmma": -4.0, "polycarbonate": 75.0}
# Uniaxial crystals: (ordinary, extraordinary)
CRYSTAL = {
    "quartz": (sellmeier_2(0.28604141, (1.07044083, 1.00585997e-2), (1.10202242, 100.0)),
               sellmeier_2(0.28851804, (1.09509924, 1.02101864e-2), (1.15662475, 100.0))),
    "quartz radhakrishnan": (
        sellmeier_1(0, (0.663044, 0.060), (0.517852, 0.106), (0.175912, 0.119), (0.565380, 8.844), (1.675299, 20.742)),
        sellmeier_1(0, (0.665721, 0.060), (0.503511, 0.106), (0.214792, 0.119), (0.539173, 8.792), (1.807613, 19.70))),
    "calcite": (sellmeier_2(0.73358749, (0.96464345, 1.94325203e-2), (1.82831454, 120.0)),
                sellmeier_2(0.35859695, (0.82427830, 1.06689543e-2), (0.14429128, 120.0))),
    "mgf2": (sellmeier_1(0, (0.48755108, 0.04338408), (0.39875031, 0.09461442), (2.3120353, 23.793604)),
             sellmeier_1(0, (0.41344023, 0.03684262), (0.50497499, 0.09076162), (2.4904862, 23.771995))),
}
IMMERSION = {"air": 1.0, "water": 1.333, "oil": 1.515}

# Sheets (section E): wavelength, then k1, k2
SHEET_NM = np.array([375.0, 400, 450, 500, 550, 600, 650, 700, 750])
SHEET = {
    "iodine-dense": ([0.11, 0.21, 0.45, 0.55, 0.48, 0.43, 0.47, 0.59, 0.69],
                  [5e-6, 1e-5, 3e-6, 2e-6, 2e-6, 2e-6, 2e-6, 3e-6, 1e-5]),
    "iodine-medium": ([0.33, 0.47, 0.68, 0.75, 0.70, 0.67, 0.70, 0.77, 0.84],
                  [1e-3, 3e-3, 5e-4, 5e-5, 2e-5, 2e-5, 2e-5, 3e-5, 2e-4]),
    "iodine-pale": ([0.54, 0.67, 0.81, 0.86, 0.82, 0.79, 0.82, 0.86, 0.90],
                  [2e-2, 4e-2, 2e-2, 5e-3, 7e-4, 3e-4, 3e-4, 7e-4, 1e-2]),
}


def glass_index(glass, nm, readings):
    if isinstance(glass, (int, float)):
        return np.full(np.shape(nm), float(glass))
    key = glass.lower()
    if key == "b270":
        if readings["b270_index"] == "fit":
            return b270_fit(nm)
        return np.interp(nm, B270_NM, B270_N)
    return GLASS[key](nm)


def crystal_indices(material, nm, readings):
    key = material.lower()
    if key == "quartz" and readings["quartz_data"] == "radhakrishnan":
        key = "quartz radhakrishnan"
    ordinary, extraordinary = CRYSTAL[key]
    return ordinary(nm), extraordinary(nm)


def immersion_index(value):
    return IMMERSION[value] if isinstance(value, str) else float(value)


# ----------------------------------------------------------------------------------------------
# Tables
# ----------------------------------------------------------------------------------------------
def read_columns(path):
    with open(path, newline="") as handle:
        rows = [row for row in csv.reader(handle) if row and not row[0].lstrip().startswith("#")]
    try:
        [float(x) for x in rows[0]]
        body = rows
    except ValueError:
        body = rows[1:]
    return np.array([[float(x) for x in row] for row in body]).T


def interpolate(nm, table_nm, values, beyond="error"):
    nm = np.asarray(nm, float)
    if beyond == "error" and (nm.min() < table_nm[0] - 1e-9 or nm.max() > table_nm[-1] + 1e-9):
        raise ValueError(f"table covers {table_nm[0]}..{table_nm[-1]} nm only")
    result = np.interp(nm, table_nm, values)
    if beyond == "linear":
        high = nm > table_nm[-1]
        slope = (values[-1] - values[-2]) / (table_nm[-1] - table_nm[-2])
        result = np.where(high, values[-1] + slope * (nm - table_nm[-1]), result)
    return result


def sheet_transmittances(part, nm, folder, readings):
    """k1(lambda), k2(lambda) of a sheet; k1 linear, log k2 linear between the table's points."""
    sheet = part["sheet"]
    if sheet == "ideal":
        return np.ones_like(nm), np.zeros_like(nm)
    if isinstance(sheet, dict) and "k1" in sheet:
        return np.full_like(nm, sheet["k1"]), np.full_like(nm, sheet["k2"])
    if isinstance(sheet, dict):
        table_nm, k1, k2 = read_columns(folder / sheet["csv"])[:3]
        beyond = "error"
    else:
        table_nm, (k1, k2) = SHEET_NM, (np.array(v) for v in SHEET[sheet])
        beyond = readings["sheet_beyond_table"]
    way = readings["sheet_interpolation"]
    if way == "log-both":
        k1 = np.exp(interpolate(nm, table_nm, np.log(k1), beyond))
    else:
        k1 = interpolate(nm, table_nm, k1, beyond)
    if way == "linear-k2":
        k2 = interpolate(nm, table_nm, k2, beyond)
    else:
        k2 = np.exp(interpolate(nm, table_nm, np.log(k2), beyond))
    return k1, k2


def lamp(light, nm, folder, readings):
    """Relative spectral power of the source at the wavelengths nm."""
    source = light["source"]
    if isinstance(source, str):
        import colour
        if source == "cie-a" and readings["cie_a"] == "formula":
            # 100 (560/l)^5 (exp(1.435e7/(2848*560)) - 1) / (exp(1.435e7/(2848 l)) - 1)
            return 100 * (560 / nm) ** 5 * np.expm1(1.435e7 / (2848 * 560)) / np.expm1(1.435e7 / (2848 * nm))
        name = {"cie-a": "A", "cie-d65": "D65", "cie-e": "E"}.get(source) or source.upper()
        table = colour.SDS_ILLUMINANTS[name]
        return interpolate(nm, np.asarray(table.wavelengths, float), np.asarray(table.values, float))
    if "blackbody_k" in source:
        # Planck, spectral in wavelength; c2 = h c / k = 1.438776877e-2 m K
        return (nm / 560) ** -5.0 / np.expm1(1.438776877e7 / (nm * source["blackbody_k"]))
    if "line_nm" in source:
        x, width = nm - source["line_nm"], source["width_nm"]
        shape = readings["line_shape"]
        if shape == "gaussian-fwhm":
            return np.exp(-4 * math.log(2) * (x / width) ** 2)
        if shape == "gaussian-sigma":
            return np.exp(-0.5 * (x / width) ** 2)
        if shape == "rectangle":
            return (np.abs(x) <= width / 2).astype(float)
        return np.maximum(0.0, 1 - np.abs(x) / width)
    table_nm, values = read_columns(folder / source["csv"])[:2]
    return interpolate(nm, table_nm, values)


def observer(nm):
    """CIE 1931 2 degree colour-matching functions, (3, L)."""
    import colour
    table = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    return np.stack([np.interp(nm, table.wavelengths, table.values[:, i]) for i in range(3)])


# ----------------------------------------------------------------------------------------------
# Jones algebra in the pupil frame
# ----------------------------------------------------------------------------------------------
def jones(a, b, c, d):
    a, b, c, d = np.broadcast_arrays(a, b, c, d)
    return np.array([[a, b], [c, d]])


def multiply(m, n):
    """m after n."""
    more = n.ndim - m.ndim
    m, n = m.reshape(m.shape + (1,) * more), n.reshape(n.shape + (1,) * -more)
    product = m[:, 0, None] * n[None, 0]
    product += m[:, 1, None] * n[None, 1]
    return product


def turned(azimuth, along, across):
    """R(az) diag(along, across) R(-az), R = [[cos, -sin], [sin, cos]]."""
    c, s = np.cos(azimuth), np.sin(azimuth)
    return jones(c * c * along + s * s * across, c * s * (along - across),
                 c * s * (along - across), s * s * along + c * c * across)


def retarder(path_difference_nm, slow_azimuth, nm):
    """R(az) diag(exp(+i d/2), exp(-i d/2)) R(-az), d = 2 pi Gamma / lambda, az the slow axis."""
    half = np.pi * path_difference_nm / nm
    return turned(slow_azimuth, np.exp(1j * half), np.exp(-1j * half))


# ----------------------------------------------------------------------------------------------
# Elements
# ----------------------------------------------------------------------------------------------
def cosine(s, n):
    """cos(theta) in a layer of index n for the numerical aperture s = n sin(theta)."""
    sine = s / n
    if np.any(sine >= 1):
        raise ValueError("a ray is totally reflected in this layer")
    return np.sqrt(1 - sine**2)


def interface(s, n1, n2):
    """Flat surface n1 -> n2: Fresnel t_p, t_s times sqrt(n2 cos2 / (n1 cos1))."""
    c1, c2 = cosine(s, n1), cosine(s, n2)
    power = np.sqrt(n2 * c2 / (n1 * c1))
    t_p = 2 * n1 * c1 / (n2 * c1 + n1 * c2)
    t_s = 2 * n1 * c1 / (n1 * c1 + n2 * c2)
    return t_p * power, t_s * power


def slide_jones(part, ray, space, below):
    """medium below (condenser immersion or what joins the sheet) -> glass -> mount -> cover glass -> objective immersion."""
    glass = glass_index(part["glass"], ray.nm, space.readings)
    mount = glass_index(part["mount"], ray.nm, space.readings)
    cover = glass_index(part.get("cover", part["glass"]), ray.nm, space.readings)
    layers = [below, glass, mount, cover, space.objective_index]
    t_p, t_s = 1.0, 1.0
    for n1, n2 in zip(layers, layers[1:]):
        p, q = interface(ray.s, n1, n2)
        t_p, t_s = t_p * p, t_s * q
    return turned(ray.phi, t_p, t_s)


def lens_surface(beta, glass, coating, nm, film=1.38):
    """t_p, t_s (complex, power-normalised) of one surface that deviates a ray by beta.

    tan i = n sin(beta) / (n cos(beta) - 1); the ray inside makes i - beta with the normal.
    """
    i = np.arctan2(glass * np.sin(beta), glass * np.cos(beta) - 1)
    inside = i - beta
    ci, cg = np.cos(i), np.cos(inside)
    if coating == "none":
        # |t_s|^2 = T_s = 4 n ci cg / (ci + n cg)^2 and t_p / t_s = 1 / cos(beta)
        t_s = np.sqrt(4 * glass * ci * cg) / (ci + glass * cg)
        return t_s / np.cos(beta), t_s
    if coating != "mgf2":
        raise ValueError(f"coating {coating}")
    # One layer, index 1.38, a quarter wave of 550 nm at normal incidence; exp(i(kz - wt)):
    #   [B]   [ cos d          -i sin d / eta ] [  1   ]      t = 2 eta0 / (eta0 B + C)
    #   [C] = [ -i eta sin d    cos d         ] [ etas ]
    # d = 2 pi n h cos / lambda; eta_s = n cos, eta_p = n / cos; times sqrt(etas / eta0).
    thickness = 550.0 / (4 * film)
    cf = np.sqrt(1 - (np.sin(i) / film) ** 2)
    d = 2 * np.pi * film * thickness * cf / nm
    amplitudes = []
    for eta0, eta, etas in ((1 / ci, film / cf, glass / cg), (ci, film * cf, glass * cg)):
        b = np.cos(d) - 1j * np.sin(d) / eta * etas
        c = -1j * eta * np.sin(d) + np.cos(d) * etas
        amplitudes.append(2 * eta0 / (eta0 * b + c) * np.sqrt(etas / eta0))
    return tuple(amplitudes)


def power_unwrapped(t, exponent):
    """t^exponent with the phase of ONE surface taken first (it lies in (-pi, pi)), then multiplied."""
    return np.abs(t) ** exponent * np.exp(1j * exponent * np.angle(t))


def lens_jones(part, strain, ray, space, is_condenser, deviation, na_full):
    """J = D^(N/2) . strain . D^(N/2), D = R(phi) diag(t_p, t_s) R(-phi) of one surface that bends by deviation/N.

    na_full: numerical aperture in object space of the ray that crosses this lens at its rim.
    """
    surfaces = part.get("surfaces", 0)
    surfaces = 0 if surfaces == "ideal" else surfaces
    coating = part.get("coating", "none")
    # aperture coordinates, rim at 1; the condenser's aperture is crossed at phi + 180 degrees
    sign = -1.0 if is_condenser else 1.0
    x, y = sign * ray.s / na_full * np.cos(ray.phi), sign * ray.s / na_full * np.sin(ray.phi)
    bodies = [strain_jones(profile, x, y, part, ray, space) for profile in strain]
    if surfaces == 0 and space.readings["no_surfaces_strain"] == "dropped":
        bodies = []
    if surfaces == 0 or coating == "ideal":
        half = None
    else:
        # one of all rays that are bent alike
        bent, alike = np.unique(deviation, return_inverse=True)
        beta = bent[None, :] / surfaces
        glass = glass_index(part["glass"], ray.nm, space.readings)
        halves = (power_unwrapped(t, surfaces / 2) for t in lens_surface(beta, glass, coating, ray.nm))
        half = turned(ray.phi, *(t[..., alike.ravel()] for t in halves))
    result = turned(0.0, np.ones((1, 1)), np.ones((1, 1))).astype(complex) if half is None else half
    for body in bodies:
        result = multiply(body, result)
    return result if half is None else multiply(half, result)


def strain_jones(profile, x, y, lens, ray, space):
    """A linear retarder whose path difference and slow azimuth depend on the aperture's (x, y)."""
    (kind, values), = profile.items()
    if kind == "uniform":
        gamma, azimuth = values["path_difference_nm"], math.radians(values["azimuth_deg"])
    elif kind == "radial":
        gamma, azimuth = values["edge_nm"] * (x * x + y * y), np.arctan2(y, x)
        if values.get("slow", "radial") == "tangential":
            azimuth = azimuth + np.pi / 2
    elif kind == "clamp":
        gamma, azimuth = clamp(values, x, y, lens, space.readings)
    elif kind == "map":
        gamma, azimuth = strain_map(space.folder / values["csv"], x, y, space.readings)
    else:
        raise ValueError(f"strain {kind}")
    return retarder(gamma, azimuth, ray.nm)


def clamp_stress(values, x, y):
    """(sxx, syy, sxy) times the thickness t, N/mm, at (x, y) in units of the radius.

    Sum of Flamant fields s_rr = -(2 F / (pi t)) cos(theta) / r about each contact (theta from the
    inward load line), plus the uniform tension sum(F) / (pi D t).
    """
    force, diameter, contacts = values["force_n"], values["diameter_mm"], values["contacts"]
    radius = diameter / 2
    sxx = syy = contacts * force / (np.pi * diameter)
    sxy = 0.0
    for k in range(contacts):
        a = math.radians(values.get("azimuth_deg", 0.0)) + 2 * np.pi * k / contacts
        dx, dy = radius * (x - math.cos(a)), radius * (y - math.sin(a))   # from contact to point
        r2 = dx * dx + dy * dy
        along = -(dx * math.cos(a) + dy * math.sin(a))                    # r cos(theta)
        s_rr = -(2 * force / np.pi) * along / r2
        sxx, syy, sxy = sxx + s_rr * dx * dx / r2, syy + s_rr * dy * dy / r2, sxy + s_rr * dx * dy / r2
    return sxx, syy, sxy


def clamp(values, x, y, lens, readings):
    """Gamma = C t (s1 - s2), nm; n1 - n2 = C (s1 - s2): for C > 0 slow along s1, the tension."""
    if values["contacts"] < 2:
        raise ValueError("a single contact is not in equilibrium")
    coefficient = values.get("stress_optic_brewster")
    if coefficient is None:
        coefficient = STRESS_OPTIC[lens["glass"].lower()]
    sxx, syy, sxy = clamp_stress(values, x, y)
    gamma = coefficient * np.hypot(sxx - syy, 2 * sxy)          # Brewster x N/mm = nm
    azimuth = 0.5 * np.arctan2(2 * sxy, sxx - syy)              # of s1, the larger (algebraic) stress
    if readings["clamp_slow"] == "compression":
        azimuth = azimuth + np.pi / 2
    return gamma, azimuth


def strain_map(path, x, y, readings):
    """Rectangular table x, y, path_difference_nm, azimuth_deg.

    Interpolated are the components Gamma cos 2az and Gamma sin 2az, which need no branch: by Hermite's cubics along y, then along x, with the
    second-order differences of numpy.gradient as slopes (one-sided of the same order at the ends).
    """
    tx, ty, gamma, azimuth = read_columns(path)[:4]
    gx, gy = np.unique(tx), np.unique(ty)
    order = np.lexsort((ty, tx))
    shape = (gx.size, gy.size)
    gamma, azimuth = gamma[order].reshape(shape), np.radians(azimuth[order]).reshape(shape)

    def bilinear(table):
        i = np.clip(np.searchsorted(gx, x) - 1, 0, gx.size - 2)
        j = np.clip(np.searchsorted(gy, y) - 1, 0, gy.size - 2)
        u, v = (x - gx[i]) / (gx[i + 1] - gx[i]), (y - gy[j]) / (gy[j + 1] - gy[j])
        return ((1 - u) * (1 - v) * table[i, j] + u * (1 - v) * table[i + 1, j]
                + (1 - u) * v * table[i, j + 1] + u * v * table[i + 1, j + 1])

    def weights(nodes, at):
        """What each node counts for at each place: the interpolant of every unit vector."""
        unit = np.eye(nodes.size)
        slopes = np.gradient(unit, nodes, axis=0, edge_order=min(2, nodes.size - 1))
        return CubicHermiteSpline(nodes, unit, slopes)(at)

    def smooth(table):
        return np.einsum("...n,nm,...m->...", weights(gx, x), table, weights(gy, y))

    if readings["map_interpolation"] == "separate":
        return bilinear(gamma), bilinear(azimuth)
    surface = bilinear if readings["map_interpolation"] == "bilinear" else smooth
    c, s = surface(gamma * np.cos(2 * azimuth)), surface(gamma * np.sin(2 * azimuth))
    return np.hypot(c, s), 0.5 * np.arctan2(s, c)


def sheet_collimated(k1, k2, azimuth):
    """R(az) diag(sqrt k1, sqrt k2) R(-az)."""
    return turned(azimuth, np.sqrt(k1), np.sqrt(k2))


def cover_retarder(cover_nm, s, nm, n_o=1.48, d_nm=80e3):
    """Protective film toward the specimen: a negative C plate, (n_o - n_e) d = cover_nm; p and s factors."""
    n_e = n_o - cover_nm / d_nm
    k_ez, k_oz = n_o * np.sqrt(1 - (s / n_e) ** 2), np.sqrt(n_o**2 - s**2)
    delta = 2 * np.pi * d_nm * (k_ez - k_oz) / nm
    return np.exp(0.5j * delta), np.exp(-0.5j * delta)


def sheet_oblique(k1, k2, azimuth, film, ray, below, above, ideal, readings, cover_nm=0.0, is_analyzer=False):
    """O-type sheet across oblique rays.

    theta' = asin(s/n_f); absorption axis at az + 90:
      a_p = cos(theta') cos(az + 90 - phi), a_s = sin(az + 90 - phi), sin^2(psi) = a_p^2 + a_s^2
      alpha_i = -ln(k_i / T0), T0 = (4 n_f / (1 + n_f)^2)^2, alpha_1 not below 0
      t1 = exp(-alpha_1 / (2 cos theta'))                               on e_tr
      t2 = exp(-(alpha_2 sin^2 psi + alpha_1 cos^2 psi) / (2 cos theta'))  on e_abs = (a_p, a_s) / sin psi
    between two flat surfaces, medium below -> film -> medium above.
    """
    if ideal and readings["ideal_sheet_angle"] == "medium":
        film = below
    inside = cosine(ray.s, film)
    turn = azimuth + np.pi / 2 - ray.phi
    a_p, a_s = inside * np.cos(turn), np.sin(turn)
    sin2 = a_p**2 + a_s**2
    u, v = a_p / np.sqrt(sin2), a_s / np.sqrt(sin2)
    t0 = 1.0 if ideal else (4 * film / (1 + film) ** 2) ** 2
    with np.errstate(divide="ignore"):
        alpha_1 = np.maximum(0.0, -np.log(k1 / t0))
        alpha_2 = -np.log(k2 / t0)
    t1 = np.exp(-alpha_1 / (2 * inside))
    t2 = np.exp(-(alpha_2 * sin2 + alpha_1 * (1 - sin2)) / (2 * inside))
    body = jones(t1 * v * v + t2 * u * u, (t2 - t1) * u * v, (t2 - t1) * u * v, t1 * u * u + t2 * v * v)
    if not ideal:
        in_p, in_s = interface(ray.s, below, film)
        out_p, out_s = interface(ray.s, film, above)
        body = np.array([[body[0, 0] * in_p * out_p, body[0, 1] * in_s * out_p],
                         [body[1, 0] * in_p * out_s, body[1, 1] * in_s * out_s]])
    if cover_nm:
        p, q = cover_retarder(cover_nm, ray.s, ray.nm)
        if is_analyzer:
            body = np.array([[body[0, 0] * p, body[0, 1] * q], [body[1, 0] * p, body[1, 1] * q]])
        else:
            body = np.array([[body[0, 0] * p, body[0, 1] * p], [body[1, 0] * q, body[1, 1] * q]])
    c, s = np.cos(ray.phi), np.sin(ray.phi)
    return multiply(jones(c, -s, s, c), multiply(body, jones(c, s, -s, c)))


def sheet_jones(part, ray, space, where, is_analyzer=True):
    """The sheet in collimated light, in object space, or in the beam between a condenser's two lenses."""
    k1, k2 = sheet_transmittances(part, ray.nm[:, 0], space.folder, space.readings)
    k1, k2, azimuth = k1[:, None], k2[:, None], math.radians(part["azimuth_deg"])
    if where not in ("between", "object"):
        return sheet_collimated(k1, k2, azimuth)
    if where == "between":
        ray, below = ray.scaled(space.beam_ratio), space.first_index
    else:
        below = space.condenser_index
    above = immersion_index(part.get("contact", below))
    return sheet_oblique(k1, k2, azimuth, part.get("index", 1.5), ray, below, above,
                         part["sheet"] == "ideal", space.readings, part.get("cover_nm", usual_cover(part["sheet"])), is_analyzer)


def usual_cover(sheet):
    """Out-of-plane path difference of a catalog sheet's cover, nm; none where the sheet is told by numbers."""
    return 50.0 if isinstance(sheet, str) and sheet in SHEET else 0.0


def plate_jones(part, ray, space):
    """Gamma(lambda) = Gamma0 * birefringence(lambda) / birefringence(at_nm), or constant."""
    gamma = part["path_difference_nm"]
    material = part.get("material", "none")
    if material != "none":
        o, e = crystal_indices(material, ray.nm, space.readings)
        o0, e0 = crystal_indices(material, np.array(float(part["at_nm"])), space.readings)
        gamma = gamma * (e - o) / (e0 - o0)
    return retarder(gamma, math.radians(part["azimuth_deg"]), ray.nm)


def uniaxial_path_per_thickness(no, ne, par, perp):
    """(k_ez - k_oz) / k0, axis in the plate; par, perp: parts of s along the axis and across it."""
    return np.sqrt(ne**2 - perp**2 - par**2 * ne**2 / no**2) - np.sqrt(no**2 - par**2 - perp**2)


def uniaxial_across_path_per_thickness(no, ne, s):
    """(k_ez - k_oz) / k0, axis along the microscope axis:  k_ez = (no / ne) sqrt(ne^2 - s^2)."""
    return no / ne * np.sqrt(ne**2 - s**2) - np.sqrt(no**2 - s**2)


def rotation_of_quartz(nm):
    """Degrees per mm along the axis, clockwise in a right-handed crystal (Lowry and Coode-Adams 1927, from memory)."""
    l2 = (nm / 1000) ** 2
    return 9.5639 / (l2 - 0.0127493) - 2.3113 / (l2 - 0.000974) - 0.1905


# Gyration of quartz at right angles to the axis over that along it (Szivessy and Muenster 1934, from memory).
QUARTZ_GYRATION_ACROSS = -0.45


def active_across(part, ray, no, ne):
    """A plate cut across its axis that turns light. At one angle theta to the axis the two waves' n^2 are the eigenvalues of what the section across the
    mean normal has without activity, n_e'^2 for p and n_o^2 for s, and of the gyration between them; the plate is the exponential of that
    2 x 2 matrix of normal components."""
    turned = rotation_of_quartz(ray.nm) * {"right": 1, "left": -1}[part["rotation"]]
    gyration = np.radians(turned) / 1e6 * ray.nm / np.pi * no
    k_o, k_e = np.sqrt(no**2 - ray.s**2), no / ne * np.sqrt(ne**2 - ray.s**2)
    mean = (k_o + k_e) / 2
    upright = mean**2 / (mean**2 + ray.s**2)
    g = gyration * (upright + QUARTZ_GYRATION_ACROSS * (1 - upright)) / mean
    # K = diag(k_e, k_o) in p and s, and -g on (1, -i), +g on (1, i): half of it off the diagonal. Its trace is a common phase.
    half = (k_e - k_o) / 2
    root = np.sqrt(half**2 + (g / 2) ** 2)
    phase = 2 * np.pi / ray.nm * 1000 * part["thickness_um"] * root
    c, s = np.cos(phase), np.sin(phase) / np.where(root > 0, root, 1)
    in_ps = jones(c + 1j * s * half, s * g / 2, -s * g / 2, c - 1j * s * half)
    turn = turned_frame(ray.phi + 0 * half)
    return multiply(turn, multiply(in_ps, np.swapaxes(turn, 0, 1)))


def turned_frame(azimuth):
    return jones(np.cos(azimuth), -np.sin(azimuth), np.sin(azimuth), np.cos(azimuth))


# Crystals with two optic axes: least and largest index, acute angle, sign
BIAXIAL = {"muscovite": (1.564, 1.6025, 38.5, False), "topaz": (1.62, 1.63, 58.0, True)}


def biaxial_jones(part, ray):
    """Both upward roots of det(wave equation) = 0 from the 4 x 4 matrix of tangential fields; vibrations from the section of the inverse
    permittivity across the mean normal."""
    least, largest, two_v, positive = BIAXIAL[part["material"]]
    v = math.radians(two_v / 2) if positive else math.pi / 2 - math.radians(two_v / 2)
    middle = math.sqrt(least**2 * largest**2 / (least**2 + math.cos(v) ** 2 * (largest**2 - least**2)))
    normal = {"x": [1, 0, 0], "y": [0, 1, 0], "z": [0, 0, 1]}[part["normal"]] if isinstance(part["normal"], str) else part["normal"]
    up = np.array(normal, float) / np.linalg.norm(normal)
    east = np.array([0, 0, 1]) - up[2] * up
    if np.linalg.norm(east) < 1e-6:
        east = np.array([0, 1, 0]) - up[1] * up
    east /= np.linalg.norm(east)
    axes = np.array([east, np.cross(up, east), up])
    gamma, vibration = np.empty(ray.s.shape), np.empty(ray.s.shape)
    for number, (s, phi) in enumerate(zip(ray.s[0], ray.phi[0])):
        a = math.radians(part["azimuth_deg"]) - phi
        turn = np.array([[math.cos(a), -math.sin(a), 0], [math.sin(a), math.cos(a), 0], [0, 0, 1]]) @ axes
        e = turn @ np.diag([least**2, middle**2, largest**2]) @ turn.T
        # d/dz of (Ex, Ey, Hx, Hy), k_x = s, k_y = 0.
        z = e[2, 2]
        m = np.array([[-s * e[2, 0] / z, -s * e[2, 1] / z, 0, 1 - s * s / z],
                      [0, 0, -1, 0],
                      [e[1, 2] * e[2, 0] / z - e[1, 0], s * s - e[1, 1] + e[1, 2] * e[2, 1] / z, 0, s * e[1, 2] / z],
                      [e[0, 0] - e[0, 2] * e[2, 0] / z, e[0, 1] - e[0, 2] * e[2, 1] / z, 0, -s * e[0, 2] / z]])
        slow, fast = np.sort(np.linalg.eigvals(m).real)[::-1][:2]
        mean = (slow + fast) / 2
        length = math.hypot(s, mean)
        p, across = np.array([mean, 0, -s]) / length, np.array([0, 1, 0])
        inverse = np.linalg.inv(e)
        section = np.array([[p @ inverse @ p, p @ inverse @ across], [p @ inverse @ across, across @ inverse @ across]])
        least_direction = np.linalg.eigh(section)[1][:, 0]
        gamma[0, number] = 1000 * part["thickness_um"] * (slow - fast)
        vibration[0, number] = phi + math.atan2(least_direction[1], least_direction[0])
    return retarder(gamma, vibration, ray.nm)


def specimen_jones(part, ray, space):
    if part.get("cut", "along") == "across":
        # Plate cut across its axis: the extraordinary wave vibrates in the meridional plane.
        no, ne = crystal_indices(part["material"], ray.nm, space.readings)
        if part.get("rotation", "none") != "none":
            return active_across(part, ray, no, ne)
        gamma = 1000 * part["thickness_um"] * uniaxial_across_path_per_thickness(no, ne, ray.s)
        return retarder(gamma, ray.phi, ray.nm)
    if "normal" in part:
        return biaxial_jones(part, ray)
    azimuth = math.radians(part["azimuth_deg"])
    if "path_difference_nm" in part:
        return retarder(part["path_difference_nm"], azimuth, ray.nm)
    # Uniaxial plate, axis in its plane:  k_oz = sqrt(no^2 - s^2)
    #   k_ez = sqrt(ne^2 - s_perp^2 - s_par^2 ne^2 / no^2),  Gamma = d (k_ez - k_oz)
    no, ne = crystal_indices(part["material"], ray.nm, space.readings)
    if space.readings["uniaxial_azimuth"] == "slow" and np.all(ne < no):
        azimuth += np.pi / 2
    par, perp = ray.s * np.cos(azimuth - ray.phi), ray.s * np.sin(azimuth - ray.phi)
    gamma = 1000 * part["thickness_um"] * uniaxial_path_per_thickness(no, ne, par, perp)
    # extraordinary vibration: the axis projected across the ray at the mean index
    mean = (no + ne) / 2 if space.readings["uniaxial_mean_index"] == "half-sum" else (2 * no + ne) / 3
    vibration = ray.phi + np.arctan2(np.sin(azimuth - ray.phi), cosine(ray.s, mean) * np.cos(azimuth - ray.phi))
    return retarder(gamma, vibration, ray.nm)


# ----------------------------------------------------------------------------------------------
# The stack
# ----------------------------------------------------------------------------------------------
KINDS = ("polarizer", "retarder", "plate", "condenser", "slide", "specimen", "objective", "analyzer")


class Rays:
    """Gauss-Legendre in s^2 over (0, A^2), equally spaced azimuths; weights sum to 1."""

    def __init__(self, aperture, n_s, n_phi, nm):
        node, weight = np.polynomial.legendre.leggauss(n_s)
        s = np.sqrt((node + 1) / 2) * aperture
        phi = 2 * np.pi * (np.arange(n_phi) + 0.5) / n_phi
        self.s = np.repeat(s, n_phi)[None, :]
        self.phi = np.tile(phi, n_s)[None, :]
        self.weight = np.repeat(weight / 2, n_phi) / n_phi
        self.nm = nm[:, None]

    @classmethod
    def named(cls, s, phi, nm):
        """Stated rays, all of one weight."""
        ray = cls.__new__(cls)
        ray.s, ray.phi, ray.nm = np.asarray(s, float)[None, :], np.asarray(phi, float)[None, :], nm[:, None]
        ray.weight = np.full(ray.s.size, 1 / ray.s.size)
        return ray

    def scaled(self, ratio):
        """The same rays where their numerical aperture is ratio times that in object space."""
        other = copy.copy(self)
        other.s = self.s * ratio
        return other


class Stack:
    def __init__(self, scenario, folder, readings):
        self.folder, self.readings = Path(folder), readings
        self.parts = []
        for entry in scenario["part"]:
            kind, = [k for k in KINDS if k in entry]
            self.parts.append((kind, entry[kind], entry.get("strain", [])))
        kinds = [kind for kind, _, _ in self.parts]
        # of two condenser lenses the later one faces object space, and the dictionary keeps that one
        lenses = {kind: part for kind, part, _ in self.parts if kind in ("condenser", "objective")}
        self.condenser_index = immersion_index(lenses.get("condenser", {}).get("immersion", "air"))
        self.condenser_na = lenses.get("condenser", {}).get("na", math.inf)
        condensers = [part for kind, part, _ in self.parts if kind == "condenser"]
        if len(condensers) > 2:
            raise ValueError("a condenser has one or two lenses")
        self.first_lens = kinds.index("condenser") if len(condensers) == 2 else None
        if len(condensers) == 2:
            # sine condition: s1 / na_1 = s / na_2
            self.beam_ratio = condensers[0]["na"] / condensers[1]["na"]
            self.first_index = immersion_index(condensers[0].get("immersion", "air"))
            if self.beam_ratio / self.first_index > 1 / self.condenser_index:
                raise ValueError("the second lens would bend rays outward")
        self.objective_index = immersion_index(lenses.get("objective", {}).get("immersion", "air"))
        self.spaces = self.name_spaces(kinds)
        self.check_contact()
        limits = [scenario.get("aperture", {}).get("na", math.inf), self.condenser_na]
        limits.append(lenses["objective"]["na"] if "objective" in lenses else scenario["view"]["na"])
        self.aperture = min(limits)
        self.lower_azimuth = next(p["azimuth_deg"] for k, p, _ in self.parts if k == "polarizer")
        first, last = kinds.index("polarizer"), kinds.index("analyzer")
        if last != len(kinds) - 1:
            raise ValueError("the analyzer must be the last part")
        retarders = kinds[first:last].count("retarder")
        rule = readings["circular_rule"]
        self.circular = (retarders >= 2 and rule == "two-retarders") or (retarders >= 1 and rule == "any-retarder")

    def name_spaces(self, kinds):
        """aperture (lamp to condenser), between its two lenses, object (condenser to objective), image."""
        rule = self.readings["missing_lens"]
        has_condenser, has_objective = "condenser" in kinds, "objective" in kinds
        here = "aperture" if has_condenser or rule == "collimated" else "object"
        spaces = []
        for kind in kinds:
            if kind == "condenser":
                here = "between" if len(spaces) == self.first_lens else "object"
                spaces.append("lens")
            elif kind == "objective":
                here = "image"
                spaces.append("lens")
            elif kind == "analyzer" and not has_objective and rule != "object":
                spaces.append("image")
            else:
                spaces.append(here)
        return spaces

    def check_contact(self):
        for number, (kind, part, _) in enumerate(self.parts):
            below_slide = number + 1 < len(self.parts) and self.parts[number + 1][0] == "slide"
            if "contact" in part and not (kind == "polarizer" and self.spaces[number] == "object" and below_slide):
                raise ValueError("contact belongs to a polarizer right below a slide in object space")

    def below_slide(self, number):
        """Index below the slide: of the medium that joins it to a sheet, or of the condenser's immersion."""
        part = self.parts[number - 1][1] if number > 0 else {}
        return immersion_index(part.get("contact", self.condenser_index))

    def lens(self, number, ray):
        """Deviation of the rays at a lens, and the NA in object space of the ray at its rim."""
        kind, part, _ = self.parts[number]
        if kind == "objective":
            return np.arcsin(ray.s / self.objective_index), part["na"]
        whole = np.arcsin(ray.s / self.condenser_index)
        if self.first_lens is None:
            return whole, self.condenser_na
        first = np.arcsin(ray.s * self.beam_ratio / self.first_index)
        # by the sine condition both lenses are crossed at the same fraction of their rims
        return (first if number == self.first_lens else whole - first), self.condenser_na

    def part_jones(self, number, ray):
        kind, part, strain = self.parts[number]
        if kind in ("polarizer", "analyzer"):
            return sheet_jones(part, ray, self, self.spaces[number], kind == "analyzer")
        if kind in ("retarder", "plate"):
            return plate_jones(part, ray, self)
        if kind == "slide":
            return slide_jones(part, ray, self, self.below_slide(number))
        if kind == "specimen":
            return specimen_jones(part, ray, self)
        return lens_jones(part, strain, ray, self, kind == "condenser", *self.lens(number, ray))


def coherency(stokes):
    """<E E^dagger> for S = (.., S1, S2 = 2 Re Ex Ey*, S3 = 2 Im Ex Ey*), trace 1."""
    s0, s1, s2, s3 = stokes
    return np.array([[s0 + s1, s2 + 1j * s3], [s2 - 1j * s3, s0 - s1]]) / (2 * s0)


def averaged_coherency(matrix, phi_in, weight):
    """sum_rays w J Phi J^dagger, shape (2, 2, L)."""
    right = multiply(phi_in, np.conj(matrix).swapaxes(0, 1))
    right *= weight
    return multiply(matrix, right).sum(axis=-1)


def spectra(stack, nm, stokes, weights, grid, stray, chunk=9):
    """T_parallel, T_crossed, T_crossed_with_plate (None without a plate), azimuth of parallel."""
    phi_in = coherency(stokes)
    kinds = [kind for kind, _, _ in stack.parts]
    last = len(kinds) - 1
    drop_specimen = stack.readings["specimen_in_crossed"] == "no"
    analyzer = stack.parts[last][1]
    before = np.zeros((2, 2, nm.size), complex)                # parallel arm, before the analyzer
    parallel, crossed, with_plate, lower = (np.zeros(nm.size) for _ in range(4))
    k1, k2 = sheet_transmittances(analyzer, nm, stack.folder, stack.readings)
    collimated = stack.spaces[last] not in ("between", "object")
    for start in range(0, nm.size, chunk):
        piece = slice(start, min(start + chunk, nm.size))
        ray = Rays(stack.aperture, *grid, nm[piece])
        trace = lambda m: np.trace(averaged_coherency(m, phi_in, ray.weight)).real  # noqa: E731
        field = turned(0.0, np.ones((nm[piece].size, ray.s.size), complex), np.ones(1))
        arms = {"parallel": field, "crossed": field, "with_plate": field}
        seen_lower = False
        cache = None
        for number, kind in enumerate(kinds[:-1]):
            element = stack.part_jones(number, ray)
            cache = {}
            for arm in arms:
                skip = (kind == "plate" and arm != "with_plate") or (
                    kind == "specimen" and (arm == "parallel" or drop_specimen))
                if not skip:
                    key = id(arms[arm])
                    if key not in cache:
                        cache[key] = (multiply(element, arms[arm]), arms[arm])
                    arms[arm] = cache[key][0]
            if kind == "polarizer" and not seen_lower:
                seen_lower = True
                lower[piece] = trace(arms["crossed"])
        end = stack.part_jones(last, ray)
        crossed[piece] = trace(multiply(end, arms["crossed"]))
        with_plate[piece] = trace(multiply(end, arms["with_plate"]))
        if stack.circular:
            before[:, :, piece] = averaged_coherency(arms["parallel"], phi_in, ray.weight)
        else:
            along = dict(analyzer, azimuth_deg=stack.lower_azimuth)
            parallel[piece] = trace(multiply(sheet_jones(along, ray, stack, stack.spaces[last]), arms["parallel"]))
    azimuth = stack.lower_azimuth
    if stack.circular:
        if not collimated:
            raise ValueError("circular polars without an objective are not covered")
        # I(az) = (k1 + k2)/2 S0 + (k1 - k2)/2 (S1 cos 2az + S2 sin 2az), largest at 2 az = atan2(S2, S1)
        s0, s1 = (before[0, 0] + before[1, 1]).real, (before[0, 0] - before[1, 1]).real
        s2 = 2 * before[0, 1].real
        if stack.readings["circular_parallel"] == "luminous-maximum":
            w = weights * (k1 - k2)
            angle = 0.5 * math.atan2(np.sum(w * s2), np.sum(w * s1))
            azimuth = math.degrees(angle)
        else:
            angle = 0.5 * np.arctan2(s2, s1)
            azimuth = None
        parallel = (k1 + k2) / 2 * s0 + (k1 - k2) / 2 * (s1 * np.cos(2 * angle) + s2 * np.sin(2 * angle))
    if stray:
        way = stack.readings["stray"]
        extra = stray * (parallel if way != "mueller" else lower * (k1 + k2) / 2)
        crossed, with_plate = crossed + extra, with_plate + extra
        if way in ("both", "mueller"):
            parallel = parallel + extra
        elif way == "depolarised-share":
            parallel = parallel * (1 - stray)
    if "plate" not in kinds:
        with_plate = None
    return parallel, crossed, with_plate, azimuth


# Azimuths need the finer steps: a clamp contact just outside the iris is a narrow feature in phi.
GRIDS = [(8, 24), (16, 48), (32, 96), (40, 192), (48, 384), (56, 768)]


def predict(path, readings=None, grid=None, tolerance=1e-9):
    """Run one scenario file."""
    path = Path(path)
    return predict_scenario(tomllib.loads(path.read_text()), path.parent, readings, grid, tolerance)


def predict_scenario(scenario, folder, readings=None, grid=None, tolerance=1e-9):
    """Run one scenario; the grid is doubled until the spectra stand still within tolerance."""
    readings = first_readings() | (readings or {})
    setting = scenario.get("spectrum", {})
    low, high, step = setting.get("from_nm", 380), setting.get("to_nm", 780), setting.get("step_nm", 5)
    nm = low + step * np.arange(round((high - low) / step) + 1, dtype=float)
    light = scenario["light"]
    source = lamp(light, nm, folder, readings)
    matching = observer(nm)
    stack = Stack(scenario, folder, readings)
    stray = scenario.get("stray", {}).get("fraction", 0.0)
    stokes = light.get("stokes", [1, 0, 0, 0])
    run = lambda g: spectra(stack, nm, stokes, source * matching[1], g, stray)  # noqa: E731
    change = None
    if grid is not None:
        result, used = run(grid), grid
    else:
        result, used = run(GRIDS[0]), GRIDS[0]
        for finer in GRIDS[1:]:
            coarse, result, used = result, run(finer), finer
            change = max(float(np.max(np.abs(b - a) / np.maximum(np.abs(b), 1e-300)))
                         for a, b in zip(coarse[:3], result[:3]) if b is not None)
            if change < tolerance:
                break
    parallel, crossed, with_plate, azimuth = result
    reference = np.sum(source * matching[1] * parallel)

    def background(transmittance):
        if transmittance is None:
            return None
        xyz = matching @ (source * transmittance) / reference
        total = xyz.sum()
        return {"relative_luminance": float(xyz[1]), "xyz": xyz.tolist(),
                "xy": (xyz[:2] / total).tolist() if total > 0 else None}

    without = background(crossed)
    luminance = without["relative_luminance"]
    return {
        "scenario": scenario.get("title", ""),
        "na": stack.aperture,
        "extinction_ratio": 1 / luminance if luminance > 0 else None,
        "parallel_azimuth_deg": azimuth,
        "grid": list(used),
        "last_relative_change": change,
        "spectrum": {"wavelength_nm": nm.tolist(), "parallel": parallel.tolist(), "crossed": crossed.tolist(),
                     "crossed_with_plate": None if with_plate is None else with_plate.tolist()},
        "background": {"without_plate": without, "with_plate": background(with_plate)},
    }


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("scenario")
    parser.add_argument("--reading", action="append", default=[], metavar="NAME=VALUE",
                        help="; ".join(f"{k}: {', '.join(v)}" for k, v in READINGS.items()))
    parser.add_argument("--grid", help="NS,NPHI instead of automatic refinement")
    parser.add_argument("--tolerance", type=float, default=1e-9)
    options = parser.parse_args()
    readings = dict(item.split("=", 1) for item in options.reading)
    for name, value in readings.items():
        if value not in READINGS.get(name, ()):
            parser.error(f"unknown reading {name}={value}")
    grid = tuple(int(x) for x in options.grid.split(",")) if options.grid else None
    print(json.dumps(predict(options.scenario, readings, grid, options.tolerance), indent=1))


if __name__ == "__main__":
    main()
