"""Colours of single rays at crossed polars, dark rings of crystals cut across their axis: writes the JSON files beside it.

    python make_maps.py       # about 4 s on one core

Everything comes from ../optics/model.py. See readings.md.
"""
import json
import os
import sys
import tomllib
import warnings
from pathlib import Path

for variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(variable, "1")
warnings.filterwarnings("ignore", message=".*related API features are not available.*")

import numpy as np                      # noqa: E402
from scipy.optimize import brentq       # noqa: E402

HERE, SCRIPT = Path(__file__).parent, Path(__file__).name
OPTICS = HERE.parent / "optics"
sys.path[:0] = [str(OPTICS), str(HERE.parent)]
import model                            # noqa: E402
from make_cases import one_line_lists   # noqa: E402
from records import write               # noqa: E402

READINGS = model.first_readings()
NM = np.arange(380.0, 781.0, 5.0)
CASES = ["a06-na040-sheet-index-stray", "a11-strain-several", "a18-na130-oil-sheet-above", "a47-two-lenses-sheet-between"]
OWN = ["calcite-across", "quartz-across", "quartz-left", "muscovite", "topaz-oblique", "calcite-oil-strained", "calcite-along"]
FULL = ["full-calcite-across", "full-quartz-across"]

# The axis, then rays at four parts of the aperture's radius, the rim among them.
RAYS = [(0.0, 0.0)] + [(part, azimuth) for part in (0.3, 0.6, 0.85, 1.0) for azimuth in (0, 37, 45, 100, 225, 310)]


def transmittance(stack, ray, stokes, with_plate):
    """Intensity behind the analyzer of light of trace 1 before the stack, shape (L, R)."""
    field = model.turned(0.0, np.ones((NM.size, ray.s.size), complex), np.ones(1))
    for number, (kind, _, _) in enumerate(stack.parts):
        if kind != "plate" or with_plate:
            field = model.multiply(stack.part_jones(number, ray), field)
    light = model.coherency(stokes)
    return np.einsum("abij,bc,acij->ij", field, light, field.conj()).real


def rays_of(path):
    scenario = tomllib.loads(path.read_text())
    stack = model.Stack(scenario, path.parent, READINGS)
    stokes = scenario["light"].get("stokes", [1, 0, 0, 0])
    source, matching = model.lamp(scenario["light"], NM, path.parent, READINGS), model.observer(NM)
    # The parallel field knows no specimen and settles sooner without it.
    empty = scenario | {"part": [p for p in scenario["part"] if "specimen" not in p]}
    parallel = np.array(model.predict_scenario(empty, path.parent)["spectrum"]["parallel"])
    reference = np.sum(source * matching[1] * parallel)
    stray = scenario.get("stray", {}).get("fraction", 0.0) * parallel[:, None]
    parts, degrees = np.array(RAYS, float).T
    ray = model.Rays.named(parts * stack.aperture, np.radians(degrees), NM)
    plates = [False, True] if any("plate" in p for p in scenario["part"]) else [False]
    colors = [matching @ (source[:, None] * (transmittance(stack, ray, stokes, plate) + stray)) / reference
              for plate in plates]
    for number, (s, azimuth) in enumerate(zip(ray.s[0], degrees)):
        yield {"scenario": os.path.relpath(path, HERE), "s": float(s), "azimuth_deg": float(azimuth),
               "xyz": colors[0][:, number].tolist(),
               "xyz_with_plate": colors[1][:, number].tolist() if len(colors) > 1 else None}


def path_difference(material, thickness_um, nm):
    ordinary, extraordinary = (float(n) for n in model.crystal_indices(material, np.array(nm), READINGS))
    return lambda s: 1000 * thickness_um * model.uniaxial_across_path_per_thickness(ordinary, extraordinary, s)


def rings():
    """Where the path difference of a plate cut across its axis is a whole number of wavelengths, up to NA 0.95."""
    nm = 589.3
    for material, thickness_um in (("calcite", 30), ("calcite", 100), ("calcite", 1000), ("quartz", 1000)):
        gamma = path_difference(material, thickness_um, nm)
        for order in range(1, 6):
            if abs(gamma(0.95)) > order * nm:
                na = brentq(lambda s: abs(gamma(s)) - order * nm, 0.0, 0.95, xtol=1e-14, rtol=1e-14)  # noqa: B023
                yield {"material": material, "thickness_um": thickness_um, "wavelength_nm": nm, "order": order, "na": na}


def cones():
    for material, thickness_um in (("calcite", 30), ("quartz", 1000)):
        gamma = path_difference(material, thickness_um, 589.3)
        for s in (0.1, 0.25, 0.4, 0.5, 0.65, 0.85, 0.95):
            yield {"material": material, "thickness_um": thickness_um, "wavelength_nm": 589.3, "s": s,
                   "path_difference_nm": float(gamma(s))}


def main():
    paths = [OPTICS / "cases" / f"{name}.toml" for name in CASES] + [HERE / f"{name}.toml" for name in OWN]
    write(HERE / "rays.json", SCRIPT, [record for path in paths for record in rays_of(path)],
          what="one ray at crossed polars, Y = 1 for the aperture's mean in the parallel field; 5 nm")
    write(HERE / "rings.json", SCRIPT, rings(), what="dark rings of a plate cut across its axis, in air")
    write(HERE / "cones.json", SCRIPT, cones(), what="path difference of a plate cut across its axis, extraordinary minus ordinary")
    for name in FULL:
        result = model.predict(HERE / f"{name}.toml")
        (HERE / f"{name}.json").write_text(one_line_lists(json.dumps(result, indent=1)) + "\n")


if __name__ == "__main__":
    main()
