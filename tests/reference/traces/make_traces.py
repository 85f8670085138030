"""Stokes vectors after each part, Mueller matrices and their polar decomposition: writes the JSON files beside it.

    python make_traces.py       # about 5 s on one core

The parts come from ../optics/model.py; the decomposition is its own. See readings.md.
"""
import math
import os
import sys
import tomllib
import warnings
from pathlib import Path

for variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(variable, "1")
warnings.filterwarnings("ignore", message=".*related API features are not available.*")

import numpy as np                      # noqa: E402

HERE, SCRIPT = Path(__file__).parent, Path(__file__).name
OPTICS = HERE.parent / "optics"
sys.path[:0] = [str(OPTICS), str(HERE.parent)]
import model                            # noqa: E402
from records import write               # noqa: E402

READINGS = model.first_readings()
LINE_NM = np.array([546.1])
GRID_NM = np.arange(380.0, 781.0, 5.0)
RAY = (0.7, 37.0)                       # part of the aperture's radius, azimuth in degrees
SETTLED = 1e-10                         # of S0 = 1, and of a Mueller matrix's largest entry
CASES = ["cases/a20-plates-calcite-mgf2", "cases/a23-circular-strained", "cases/a26-specimen-calcite",
         "cases/a28-rotated-polars", "cases/a41-polarized-lamp", "cases/a47-two-lenses-sheet-between",
         "../maps/calcite-oil-strained"]

# In the order of the Stokes parameters: S_i = tr(sigma_i <E E^dagger>), S3 = 2 Im Ex Ey*.
SIGMA = np.array([[[1, 0], [0, 1]], [[1, 0], [0, -1]], [[0, 1], [1, 0]], [[0, 1j], [-1j, 0]]])


# ----------------------------------------------------------------------------------------------
# States and matrices
# ----------------------------------------------------------------------------------------------
def mueller(field, weight):
    """sum over rays and wavelengths of weight 1/2 tr(sigma_i J sigma_j J^dagger); weight (L, R)."""
    return np.einsum("iab,bclr,jcd,adlr,lr->ij", SIGMA, field, SIGMA, field.conj(), weight, optimize=True).real / 2


def ellipse(stokes):
    """What a Stokes vector says: ellipticity is positive for right-handed light."""
    s0, s1, s2, s3 = stokes
    linear, polarized = math.hypot(s1, s2), math.sqrt(s1 * s1 + s2 * s2 + s3 * s3)
    azimuth = math.degrees(0.5 * math.atan2(s2, s1)) % 180
    return {"stokes": [float(x) for x in stokes], "degree_of_polarization": polarized / s0,
            "azimuth_deg": None if linear < 1e-9 * s0 else 0.0 if azimuth > 180 - 1e-9 else azimuth,
            "ellipticity_deg": None if polarized < 1e-9 * s0 else math.degrees(0.5 * math.atan2(s3, linear))}


def decomposition(matrix):
    """M = m_depolarizer m_retarder m_diattenuator (Lu and Chipman 1996), by singular values.

    With m' the lower right of M M_D^-1 = U S V^T:  m_depolarizer = U S U^T, m_retarder = U V^T. Not given where
    the parts are not single-valued or lost in rounding: nearly full polarizers, m' singular or mirroring (det m' < 0).
    """
    m = matrix / matrix[0, 0]
    d = m[0, 1:]
    size = np.linalg.norm(d)
    root = math.sqrt(max(0.0, 1 - size**2))
    direction = np.outer(d, d) / size**2 if size > 0 else np.zeros((3, 3))
    diattenuator = np.eye(4)
    diattenuator[0, 1:] = diattenuator[1:, 0] = d
    diattenuator[1:, 1:] = root * np.eye(3) + (1 - root) * direction
    if root < 0.1:
        return None
    rest = m @ np.linalg.inv(diattenuator)
    u, s, vt = np.linalg.svd(rest[1:, 1:])
    if np.linalg.det(rest[1:, 1:]) <= 0 or s[2] < 1e-6:
        return None
    turn = u @ vt
    twist = np.array([turn[1, 2] - turn[2, 1], turn[2, 0] - turn[0, 2], turn[0, 1] - turn[1, 0]]) / 2
    retarder, depolarizer = np.eye(4), np.eye(4)
    retarder[1:, 1:], depolarizer[1:, 1:], depolarizer[1:, 0] = turn, u @ np.diag(s) @ u.T, rest[1:, 0]
    hermitian = np.einsum("ij,iab,jcd->acbd", m, SIGMA, SIGMA.conj()).reshape(4, 4) / 4
    eigenvalues = np.clip(np.linalg.eigvalsh(hermitian)[::-1], 0, 1)
    entropy = -sum(x * math.log(x, 4) for x in eigenvalues if x > 0)
    return {"diattenuation": float(size), "polarizance": float(np.linalg.norm(m[1:, 0])),
            "retardance_deg": math.degrees(math.atan2(np.linalg.norm(twist), (np.trace(turn) - 1) / 2)),
            "depolarization": 1 - float(s.sum()) / 3,
            "depolarization_index": math.sqrt((np.sum(m**2) - 1) / 3),
            "eigenvalues": eigenvalues.tolist(), "entropy": entropy,
            "diattenuator": diattenuator.tolist(), "retarder": retarder.tolist(), "depolarizer": depolarizer.tolist()}


# ----------------------------------------------------------------------------------------------
# Along the stack
# ----------------------------------------------------------------------------------------------
def chain(stack, with_plate):
    return [number for number, (kind, _, _) in enumerate(stack.parts) if with_plate or kind != "plate"]


def unity(ray):
    return model.turned(0.0, np.ones((ray.nm.size, ray.s.size), complex), np.ones(1))


def states(stack, ray, weight, with_plate):
    """Stokes vectors before the stack and after each part; S0 = 1 before, the lamp's state is that of every wavelength."""
    light = np.array(stack.stokes, float) / stack.stokes[0]
    field, vectors = unity(ray), [weight.sum() * light]
    for number in chain(stack, with_plate):
        field = model.multiply(stack.part_jones(number, ray), field)
        vectors.append(mueller(field, weight) @ light)
    return np.array(vectors)


def between(stack, ray, weight, with_plate):
    """Mueller matrix of what stands between the lower polar and the analyzer, both left out."""
    first = [kind for kind, _, _ in stack.parts].index("polarizer")
    field = unity(ray)
    for number in chain(stack, with_plate):
        if first < number < len(stack.parts) - 1:
            field = model.multiply(stack.part_jones(number, ray), field)
    return mueller(field, weight)


def averaged(function, stack, nm, spectral, *rest):
    """function(stack, ray, ..., weight, ...) over the aperture, on ever finer grids; wavelengths in pieces."""
    previous = None
    for grid in model.GRIDS:
        total = 0.0
        for start in range(0, nm.size, 9):
            piece = slice(start, start + 9)
            ray = model.Rays(stack.aperture, *grid, nm[piece])
            total = total + function(stack, ray, spectral[piece, None] * ray.weight, *rest)
        if previous is not None and np.max(np.abs(total - previous)) < SETTLED * np.max(np.abs(total)):
            return total, grid
        previous = total
    raise ValueError("the aperture's mean does not settle")


def cases():
    for name in CASES:
        path = OPTICS / f"{name}.toml"
        scenario = tomllib.loads(path.read_text())
        stack = model.Stack(scenario, path.parent, READINGS)
        stack.stokes = scenario["light"].get("stokes", [1, 0, 0, 0])
        lamp = model.lamp(scenario["light"], GRID_NM, path.parent, READINGS) * model.observer(GRID_NM)[1]
        ray = model.Rays.named([RAY[0] * stack.aperture], np.radians([RAY[1]]), LINE_NM)
        spectra = {"at 546.1 nm": (LINE_NM, np.ones(1)), "over the lamp": (GRID_NM, lamp / lamp.sum())}
        plates = [False, True] if any(kind == "plate" for kind, _, _ in stack.parts) else [False]
        yield {"path": os.path.relpath(path, HERE), "entries": scenario["part"], "stack": stack,
               "ray": ray, "spectra": spectra, "plates": plates}


def traces():
    for case in cases():
        stack = case["stack"]
        head = {"scenario": case["path"]}
        ray = {"s": float(case["ray"].s[0, 0]), "azimuth_deg": RAY[1]}
        for plate in case["plates"]:
            parts = [case["entries"][n]["name"] for n in chain(stack, plate)]
            one = states(stack, case["ray"], np.ones((1, 1)), plate)
            yield head | {"with_plate": plate, "what": "ray at 546.1 nm", "ray": ray, "grid": None, "parts": parts,
                          "states": [ellipse(s) for s in one]}
            for spectrum, (nm, weights) in case["spectra"].items():
                mean, grid = averaged(states, stack, nm, weights, plate)
                yield head | {"with_plate": plate, "what": f"aperture's mean {spectrum}", "ray": None, "grid": list(grid),
                              "parts": parts, "states": [ellipse(s) for s in mean]}


def constructed():
    """The first list of check values, part A: diattenuator 1, 0.5 at 20 degrees, retarder 70 degrees fast at 35, then diag(1, 0.8, 0.7, 0.6)."""
    one = np.ones((1, 1))
    first = model.turned(np.radians(20), one, one * math.sqrt(0.5))
    second = model.retarder(70 / 360 * LINE_NM[:, None], np.radians(125), LINE_NM[:, None])
    return np.diag([1, 0.8, 0.7, 0.6]) @ mueller(second, one) @ mueller(first, one)


def matrices():
    matrix = constructed()
    yield {"scenario": None, "what": "constructed", "mueller": matrix.tolist(), "decomposition": decomposition(matrix)}
    for case in cases():
        stack = case["stack"]
        ray = {"s": float(case["ray"].s[0, 0]), "azimuth_deg": RAY[1]}

        def record(what, matrix, **more):
            return {"scenario": case["path"], "what": what} | more | {  # noqa: B023
                "mueller": matrix.tolist(), "decomposition": decomposition(matrix)}

        for number, entry in enumerate(case["entries"]):
            one = mueller(model.multiply(stack.part_jones(number, case["ray"]), unity(case["ray"])), np.ones((1, 1)))
            yield record("part", one, part=entry["name"], ray=ray)
        for plate in case["plates"]:
            one = between(stack, case["ray"], np.ones((1, 1)), plate)
            yield record("between the polars, ray at 546.1 nm", one, with_plate=plate, ray=ray)
            for spectrum, (nm, weights) in case["spectra"].items():
                mean, grid = averaged(between, stack, nm, weights, plate)
                yield record(f"between the polars, aperture's mean {spectrum}", mean, with_plate=plate, grid=list(grid))


def main():
    write(HERE / "traces.json", SCRIPT, traces(), what="Stokes vector before the stack (S0 = 1) and after each part")
    write(HERE / "matrices.json", SCRIPT, matrices(),
          what="Mueller matrices and their polar decomposition (null where it is not single-valued)")


if __name__ == "__main__":
    main()
