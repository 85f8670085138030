"""Colours of interference, of sheets and of backgrounds by plain spectral sums: writes the JSON files beside it.

    python make_charts.py       # about 20 s on one core

Lamps, observer, sheets and whole stacks come from ../optics/model.py. See readings.md.
"""
import copy
import os
import sys
import tomllib
import warnings
from pathlib import Path

for variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(variable, "1")
warnings.filterwarnings("ignore", message=".*related API features are not available.*")

import colour                           # noqa: E402
import numpy as np                      # noqa: E402
from scipy.optimize import brentq       # noqa: E402

HERE, SCRIPT = Path(__file__).parent, Path(__file__).name
OPTICS = HERE.parent / "optics"
sys.path[:0] = [str(OPTICS), str(HERE.parent)]
import model                            # noqa: E402
from records import write               # noqa: E402

READINGS = model.first_readings()
NM = {step: np.arange(380.0, 780.0 + step / 2, step) for step in (1, 5)}
LAMPS = ["cie-d65", "cie-a", "led-b3", {"blackbody_k": 3200}]
D65_WHITE = np.array([0.95047, 1.0, 1.08883])
BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])

# The landmarks of the first list of check values, part G, among steps of 50, and the names that its table has between them.
PATH_DIFFERENCES = sorted({*range(0, 2751, 50), 40, 97, 158, 218, 234, 259, 275.4, 281, 306, 332, 430, 505, 536, 551.2,
                           551, 565, 566.9, 589, 664, 728, 826, 910, 998, 1101, 1128, 1258, 1334, 1534, 1652})
A_DOZEN = [0, 20, 60, 100, 147.3, 220, 275, 400, 551, 700, 1101, 1652]
SMALL_AND_LARGE = [0, 5, 10, 25, 50, 100, 137.5, 200, 275, 400, 550, 800]

# Invented: a sheet without colour, and one that leaks in the violet, as a table.
SHEETS = {
    "constant": {"k1": 0.78, "k2": 2e-4},
    "table": {"wavelength_nm": [380.0, 430.0, 500.0, 590.0, 680.0, 780.0],
              "k1": [0.42, 0.61, 0.74, 0.71, 0.76, 0.85],
              "k2": [9e-3, 2e-3, 6e-5, 2e-5, 3e-5, 7e-4]},
}
QUARTER_WAVE_NM = 137.5
PLATE = {"path_difference_nm": 550, "at_nm": 550, "material": "quartz"}


def floats(values):
    return [float(v) for v in values]


def power(source, nm):
    return model.lamp({"source": source}, nm, HERE, READINGS)


def tristimulus(source, nm, transmittance, reference=1.0):
    """XYZ of a transmittance, Y = 1 where it equals `reference` throughout: plain sums."""
    lamp, matching = power(source, nm), model.observer(nm)
    return matching @ (lamp * transmittance) / np.sum(lamp * matching[1] * reference)


def dispersed(path_difference_nm, dispersion, nm):
    """The path difference at each wavelength; named at 589.3 nm where quartz spreads it."""
    if dispersion == "none":
        return np.full_like(nm, path_difference_nm)
    ordinary, extraordinary = model.crystal_indices(dispersion, np.append(nm, 589.3), READINGS)
    birefringence = extraordinary - ordinary
    return path_difference_nm * birefringence[:-1] / birefringence[-1]


def crossed(path_difference_nm, nm):
    """Between crossed ideal polars at 45 degrees, or crossed circular ones: sin^2(pi Gamma / lambda)."""
    return np.sin(np.pi * path_difference_nm / nm) ** 2


def ideal():
    for source in LAMPS:
        for dispersion in ("none", "quartz"):
            for gamma in PATH_DIFFERENCES:
                xyz = tristimulus(source, NM[1], crossed(dispersed(gamma, dispersion, NM[1]), NM[1]))
                yield {"source": source, "dispersion": dispersion, "path_difference_nm": gamma, "xyz": floats(xyz)}


def slope(source, dispersion):
    """dY / dGamma up to a factor: sum S ybar d sin(2 pi Gamma d / lambda) / lambda, d the dispersion."""
    nm = NM[1]
    weight = power(source, nm) * model.observer(nm)[1]
    ratio = dispersed(1.0, dispersion, nm)
    return lambda gamma: np.sum(weight * ratio / nm * np.sin(2 * np.pi * gamma * ratio / nm))


def landmarks():
    for source in [*LAMPS, "cie-e", "led-b1", "led-b5"]:
        for dispersion in ("none", "quartz"):
            rate = slope(source, dispersion)
            for name, bracket in (("first maximum", (200, 400)), ("minimum after the first order", (450, 680))):
                gamma = brentq(rate, *bracket, xtol=1e-12, rtol=1e-14)
                xyz = tristimulus(source, NM[1], crossed(dispersed(gamma, dispersion, NM[1]), NM[1]))
                yield {"source": source, "dispersion": dispersion, "landmark": name,
                       "path_difference_nm": gamma, "luminance": float(xyz[1])}


# ----------------------------------------------------------------------------------------------
# Two sheets and a specimen in collimated light
# ----------------------------------------------------------------------------------------------
def transmittances(sheet, nm):
    """k1 linear, log k2 linear between the rows of a table."""
    if "wavelength_nm" not in sheet:
        return np.full_like(nm, sheet["k1"]), np.full_like(nm, sheet["k2"])
    rows = np.array(sheet["wavelength_nm"])
    return np.interp(nm, rows, sheet["k1"]), np.exp(np.interp(nm, rows, np.log(sheet["k2"])))


def through(elements):
    """Transmittance for unpolarized light: half the sum of the squares of the product's entries."""
    product = elements[0]
    for element in elements[1:]:
        product = model.multiply(element, product)
    return np.sum(np.abs(product) ** 2, axis=(0, 1)) / 2


def between_sheets(sheet, nm, polars, specimen_nm, specimen_deg):
    """Transmittance of polar, quarter wave, specimen, quarter wave, crossed polar; and of the parallel field."""
    k1, k2 = transmittances(sheet, nm)
    polar = lambda degrees: model.sheet_collimated(k1, k2, np.radians(degrees))  # noqa: E731
    wave = lambda degrees: [model.retarder(QUARTER_WAVE_NM, np.radians(degrees), nm)]  # noqa: E731
    lower, upper = (wave(45), wave(135)) if polars == "circular" else ([], [])
    specimen = [model.retarder(specimen_nm, np.radians(specimen_deg), nm)]
    return (through([polar(0), *lower, *specimen, *upper, polar(90)]),
            through([polar(0), *lower, *upper, polar(0)]))


def sheeted():
    for source in ("cie-d65", "cie-a", "led-b3"):
        for name, sheet in SHEETS.items():
            for polars, azimuths in (("linear", (45,)), ("circular", (45, 20))):
                for azimuth in azimuths:
                    for gamma in A_DOZEN:
                        dark, bright = between_sheets(sheet, NM[1], polars, gamma, azimuth)
                        yield {"source": source, "sheet": name, "polars": polars, "specimen_azimuth_deg": azimuth,
                               "path_difference_nm": gamma, "xyz": floats(tristimulus(source, NM[1], dark, bright))}


def pairs():
    for source in ("cie-d65", "cie-a", "led-b3"):
        for name, sheet in SHEETS.items():
            k1, k2 = transmittances(sheet, NM[1])
            parallel, dark = (k1**2 + k2**2) / 2, k1 * k2
            yield {"source": source, "sheet": name,
                   "parallel_xyz": floats(tristimulus(source, NM[1], parallel)),
                   "crossed_xyz": floats(tristimulus(source, NM[1], dark)),
                   "extinction_ratio": float(tristimulus(source, NM[1], parallel)[1] / tristimulus(source, NM[1], dark)[1])}


# ----------------------------------------------------------------------------------------------
# The plate added and subtracted
# ----------------------------------------------------------------------------------------------
def lab(xyz, white):
    """CIE L*a*b* against D65, after Bradford from the parallel field's white."""
    gain = (BRADFORD @ D65_WHITE) / (BRADFORD @ white)
    ratio = np.linalg.solve(BRADFORD, gain * (BRADFORD @ xyz)) / D65_WHITE
    f = np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), ratio / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def plated():
    nm = NM[1]
    o, e = model.crystal_indices("quartz", np.append(nm, PLATE["at_nm"]), READINGS)
    plate = PLATE["path_difference_nm"] * (e - o)[:-1] / (e - o)[-1]
    for source in LAMPS:
        for name in ("ideal", *SHEETS):
            for gamma in SMALL_AND_LARGE:
                record = {"source": source, "sheet": name, "path_difference_nm": gamma}
                labs = []
                for arm, total in (("added", gamma + plate), ("subtracted", gamma - plate)):
                    if name == "ideal":
                        dark, bright = crossed(total, nm), np.ones_like(nm)
                    else:
                        dark, bright = between_sheets(SHEETS[name], nm, "linear", total, 45)
                    xyz = tristimulus(source, nm, dark, bright)
                    labs.append(lab(xyz, tristimulus(source, nm, bright, bright)))
                    record[arm] = {"xyz": floats(xyz), "lab": floats(labs[-1])}
                yield record | {"ciede2000": float(colour.delta_E(*labs, method="CIE 2000"))}


# ----------------------------------------------------------------------------------------------
# What a microscope shows
# ----------------------------------------------------------------------------------------------
OF_MICROSCOPES = ["a23-circular-strained", "a28-rotated-polars", "a06-na040-sheet-index-stray"]
IN_MICROSCOPES = [0, 12.5, 60, 147.3, 400, 1101]
OBJECTIVE_STRAINS = [0, 5, 20]
IRISES = [0.2, 0.4, None]


def lower_azimuth(scenario):
    return next(p["polarizer"]["azimuth_deg"] for p in scenario["part"] if "polarizer" in p)


def with_specimen(scenario, gamma, azimuth):
    """A stated specimen in the place of the scenario's own, or right after the slide."""
    scenario = copy.deepcopy(scenario)
    parts = [p for p in scenario["part"] if "specimen" not in p]
    at = 1 + next(i for i, p in enumerate(parts) if "slide" in p)
    parts.insert(at, {"specimen": {"path_difference_nm": gamma, "azimuth_deg": azimuth}})
    scenario["part"] = parts
    return scenario


def settled_grid(scenario, folder):
    """A quadrature that moves no spectral value by more than 1e-7 of itself, found on the 5 nm grid."""
    return tuple(model.predict_scenario(scenario, folder, tolerance=1e-7)["grid"])


def seen():
    for name in OF_MICROSCOPES:
        folder = OPTICS / "cases"
        scenario = tomllib.loads((folder / f"{name}.toml").read_text())
        grid = settled_grid(with_specimen(scenario, 60, lower_azimuth(scenario) + 45), folder)
        for step in (5, 1):
            stepped = scenario | {"spectrum": {"from_nm": 380, "to_nm": 780, "step_nm": step}}
            for gamma in IN_MICROSCOPES:
                for sign in (45, -45):
                    stated = with_specimen(stepped, gamma, lower_azimuth(scenario) + sign)
                    fields = model.predict_scenario(stated, folder, grid=grid)["background"]
                    yield {"scenario": name, "step_nm": step, "path_difference_nm": gamma,
                           "specimen_to_lower_polar_deg": sign, "grid": list(grid),
                           "xyz": fields["without_plate"]["xyz"], "xyz_with_plate": fields["with_plate"]["xyz"]}


def backgrounds():
    for strain in OBJECTIVE_STRAINS:
        for iris in IRISES:
            scenario = tomllib.loads((HERE / "background.toml").read_text())
            objective = next(p for p in scenario["part"] if "objective" in p)
            objective["strain"][0]["radial"]["edge_nm"] = strain
            if iris is not None:
                scenario["aperture"] = {"na": iris}
            result = model.predict_scenario(scenario, HERE)
            yield {"objective_edge_nm": strain, "iris_na": iris, "na": result["na"], "grid": result["grid"],
                   "extinction_ratio": result["extinction_ratio"],
                   "xyz": result["background"]["without_plate"]["xyz"],
                   "xyz_with_plate": result["background"]["with_plate"]["xyz"]}


def main():
    sums = "plain sums, 380 to 780 nm by 1 nm, lamps linear between their rows"
    write(HERE / "ideal.json", SCRIPT, ideal(), named_at_nm=589.3,
          what=f"sin^2(pi G/l) between ideal polars, linear or circular; Y = 1 for full transmission; {sums}")
    write(HERE / "landmarks.json", SCRIPT, landmarks(), named_at_nm=589.3,
          what=f"extrema of luminance against path difference; {sums}")
    write(HERE / "sheets.json", SCRIPT, sheeted(), sheets=SHEETS, quarter_wave_nm=QUARTER_WAVE_NM,
          azimuths_deg={"lower polar": 0, "lower quarter wave": 45, "upper quarter wave": 135, "analyzer": 90},
          what=f"specimen without dispersion between two like sheets; Y = 1 for the parallel field; {sums}")
    write(HERE / "plate.json", SCRIPT, plated(), plate=PLATE, sheets=SHEETS,
          what=f"specimen without dispersion, slow axis along the plate's (added) or across; Y = 1 for the parallel field; {sums}")
    write(HERE / "pairs.json", SCRIPT, pairs(), sheets=SHEETS, what=f"two like sheets; Y = 1 for the lamp; {sums}")
    write(HERE / "microscopes.json", SCRIPT, seen(),
          what="stated specimen after the slide of ../optics/cases/SCENARIO.toml; Y = 1 for the parallel field")
    write(HERE / "background.json", SCRIPT, backgrounds(), scenario="background.toml", step_nm=5,
          what="first strain of the objective set to objective_edge_nm, [aperture] na to iris_na (null: left out)")


if __name__ == "__main__":
    main()
