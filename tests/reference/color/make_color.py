"""Writes the fixtures beside it: what colour-science, SciPy and NumPy say, for tests/reference/color.rs.

Run from the repository's root, after `pip install -r tests/reference/requirements.txt`:

    python tests/reference/color/make_color.py

Random numbers are NumPy's PCG64 with the seeds below; the same pinned versions write the same bytes.
"""

import json
import warnings
from pathlib import Path

warnings.simplefilter("ignore")

import colour  # noqa: E402  (it warns about missing plotting on import)
import numpy as np  # noqa: E402
from scipy.linalg import expm  # noqa: E402

HERE = Path(__file__).parent
CMFS = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
LAMPS = {"cie-a": "A", "cie-d65": "D65", "cie-e": "E"} | {f"led-b{i}": f"LED-B{i}" for i in range(1, 6)}

# Path differences in nm: black through the third order.
PATH_DIFFERENCES = [0, 40, 97, 158, 218, 234, 259, 267, 281, 306, 332, 430, 505, 536, 551, 565, 575, 589, 664, 728, 747,
                    826, 843, 866, 910, 948, 998, 1101, 1128, 1151, 1258, 1334, 1376, 1426, 1495, 1534, 1621, 1652,
                    1711, 1800]

# White of the seven-digit sRGB matrix.
D65_WHITE = np.array([0.95047, 1.0, 1.08883])
PRIMARIES = np.array([[0.64, 0.33], [0.30, 0.60], [0.15, 0.06]])
RGB_TO_XYZ = colour.models.rgb.normalised_primary_matrix(PRIMARIES, colour.XYZ_to_xy(D65_WHITE))
XYZ_TO_RGB = np.linalg.inv(RGB_TO_XYZ)


def write(name, made, records):
    """One record a line."""
    lines = ",\n".join("  " + json.dumps(record) for record in records)
    head = json.dumps(f"{made}; make_color.py with colour-science 0.4.7, numpy 2.4.6, scipy 1.17.1")
    (HERE / name).write_text(f'{{\n"made": {head},\n"records": [\n{lines}\n]}}\n')


def floats(values):
    return [float(v) for v in np.ravel(values)]


def tristimulus(lamp, step, transmittance):
    """A plain sum from 380 to 780 nm, by colour-science's integration; the lamp linear between its rows."""
    shape = colour.SpectralShape(380, 780, step)
    power = colour.SDS_ILLUMINANTS[LAMPS[lamp]].copy()
    if step != power.shape.interval:
        power = power.interpolate(shape, interpolator=colour.LinearInterpolator)
    power = power.trim(shape)
    spectrum = colour.SpectralDistribution(transmittance(shape.wavelengths), shape.wavelengths)
    cmfs = CMFS.copy().trim(shape).align(shape)
    return colour.sd_to_XYZ(spectrum, cmfs, power, method="Integration") / 100


def plate(path_difference):
    return lambda nm: np.sin(np.pi * path_difference / nm) ** 2


# Linear sRGB to cone responses and those to Oklab: B. Ottosson 2020 (from memory).
RGB_TO_LMS = np.array([[0.4122214708, 0.5363325363, 0.0514459929],
                       [0.2119034982, 0.6806995451, 0.1073969566],
                       [0.0883024619, 0.2817188376, 0.6299787005]])
LMS_TO_OKLAB = colour.models.oklab.MATRIX_2_LMS_TO_LAB


def oklab(linear):
    return LMS_TO_OKLAB @ np.cbrt(RGB_TO_LMS @ linear)


def linear_of(lab):
    return np.linalg.solve(RGB_TO_LMS, np.linalg.solve(LMS_TO_OKLAB, lab) ** 3)


def gamut_mapped(linear, jnd=0.02, epsilon=1e-4):
    """CSS Color 4, 13.2, binary search with local MINDE: a second transcription, apart from the library's."""
    inside = lambda rgb: rgb.min() >= 0 and rgb.max() <= 1  # noqa: E731
    if inside(linear):
        return linear
    origin = oklab(linear)
    if origin[0] >= 1:
        return np.ones(3)
    if origin[0] <= 0:
        return np.zeros(3)
    chroma_origin = np.hypot(origin[1], origin[2])
    clipped = np.clip(linear, 0, 1)
    if np.linalg.norm(oklab(clipped) - origin) < jnd:
        return clipped
    low, high, low_inside = 0.0, chroma_origin, True
    while high - low > epsilon:
        chroma = (low + high) / 2
        lab = origin * [1, chroma / chroma_origin, chroma / chroma_origin]
        current = linear_of(lab)
        clipped = np.clip(current, 0, 1)
        if low_inside and inside(current):
            low = chroma
            continue
        error = np.linalg.norm(oklab(clipped) - lab)
        if error < jnd:
            if jnd - error < epsilon:
                return clipped
            low_inside, low = False, chroma
        else:
            high = chroma
    return clipped


def lamps():
    for lamp in LAMPS:
        for step in (5, 1):
            white = tristimulus(lamp, step, np.ones_like)
            yield {"lamp": lamp, "step_nm": step, "xyz": floats(white), "xy": floats(colour.XYZ_to_xy(white))}


def colors():
    for lamp in ("cie-d65", "cie-a"):
        for step in (5, 1):
            white = tristimulus(lamp, step, np.ones_like)
            for path_difference in PATH_DIFFERENCES:
                xyz = tristimulus(lamp, step, plate(path_difference))
                balanced = colour.adaptation.chromatic_adaptation_VonKries(xyz, white, D65_WHITE, transform="Bradford")
                linear = XYZ_TO_RGB @ balanced
                inside = bool(linear.min() >= 0 and linear.max() <= 1)
                encoded = 255 * colour.models.eotf_inverse_sRGB(np.clip(linear, 0, 1))
                yield {
                    "lamp": lamp, "step_nm": step, "path_difference_nm": path_difference, "xyz": floats(xyz),
                    "balanced": floats(balanced), "linear": floats(linear), "inside": inside,
                    "mapped": floats(gamut_mapped(linear)),
                    "clipped_255": floats(encoded), "oklab": floats(colour.XYZ_to_Oklab(balanced)),
                    "lab": floats(colour.XYZ_to_Lab(balanced, colour.XYZ_to_xy(D65_WHITE))),
                }


def color_differences():
    rng = np.random.default_rng(20261125)
    for _ in range(200):
        one = np.array([rng.uniform(0, 100), rng.uniform(-100, 100), rng.uniform(-100, 100)])
        # Half of the pairs are near neighbours, where the formula is meant to be used.
        spread = rng.choice([3.0, 60.0])
        other = one + rng.normal(0, spread, 3)
        other[0] = np.clip(other[0], 0, 100)
        yield {"one": floats(one), "other": floats(other),
               "difference": float(colour.delta_E(one, other, method="CIE 2000"))}


# Pauli matrices in the order of the Stokes parameters, with S3 > 0 for the right-handed (1, -i).
PAULI = [np.array([[1, 0], [0, -1]], complex), np.array([[0, 1], [1, 0]], complex),
         np.array([[0, 1j], [-1j, 0]], complex)]


def generator(mean, diattenuation, phase):
    """Differential Mueller matrix of J = exp(mean + (diattenuation + i phase) . pauli / 2).

    Written from what each kind of part does to a Stokes vector, not from the Jones matrix. Phase turns the Poincare
    sphere counter-clockwise about the slow mode: with a slow x, Ex Ey* gains exp(+i phase), so S2 + i S3 turns by phase.
    """
    d1, d2, d3 = diattenuation
    p1, p2, p3 = phase
    m = 2 * mean
    return np.array([[m, d1, d2, d3], [d1, m, -p3, p2], [d2, p3, m, -p1], [d3, -p2, p1, m]])


def pair(mean, diattenuation, phase):
    """Jones and Mueller matrix, each by its own exponential."""
    exponent = mean * np.eye(2) + sum(0.5 * (d + 1j * p) * s for d, p, s in zip(diattenuation, phase, PAULI))
    return expm(exponent), expm(generator(mean, diattenuation, phase))


def record(kind, jones, mueller, **parameters):
    return {"kind": kind, **parameters, "jones_re": floats(jones.real), "jones_im": floats(jones.imag),
            "mueller": floats(mueller)}


def matrices():
    rng = np.random.default_rng(31415926)
    for _ in range(40):
        phase, azimuth = rng.uniform(-7, 7), rng.uniform(-np.pi, np.pi)
        axis = phase * np.array([np.cos(2 * azimuth), np.sin(2 * azimuth), 0])
        yield record("retarder", *pair(0.0, np.zeros(3), axis), phase_rad=phase, slow_azimuth_rad=azimuth)
    for _ in range(40):
        along, across = rng.uniform(0.001, 1, 2)
        azimuth = rng.uniform(-np.pi, np.pi)
        axis = np.log(along / across) * np.array([np.cos(2 * azimuth), np.sin(2 * azimuth), 0])
        yield record("diattenuator", *pair(0.5 * np.log(along * across), axis, np.zeros(3)),
                     along=along, across=across, azimuth_rad=azimuth)
    for _ in range(60):
        diattenuation, phase = rng.normal(0, 0.6, 3), rng.normal(0, 1.2, 3)
        mean = -rng.uniform(0.2, 1.5)
        yield record("general", *pair(mean, diattenuation, phase))
    for _ in range(30):
        # Light meets the diattenuator first; both parts are elliptical in general.
        diattenuation, phase = rng.normal(0, 0.5, 3), rng.normal(0, 1, 3)
        phase *= min(1.0, 3.0 / np.linalg.norm(phase))
        mean = -rng.uniform(0.7, 1.5)
        first, second = pair(mean, diattenuation, np.zeros(3)), pair(0.0, np.zeros(3), phase)
        yield record("polar", second[0] @ first[0], second[1] @ first[1],
                     diattenuation=float(np.tanh(np.linalg.norm(diattenuation))),
                     retardance_rad=float(np.linalg.norm(phase)))


if __name__ == "__main__":
    write("lamps.json", "White of each lamp, 380 to 780 nm, Y = 1", lamps())
    write("colors.json", "sin^2(pi G/l) under a lamp, balanced by Bradford to D65", colors())
    write("color_differences.json", "CIEDE2000 of random pairs, seed 20261125", color_differences())
    write("matrices.json", "Jones and Mueller matrices by matrix exponentials, seed 31415926", matrices())
