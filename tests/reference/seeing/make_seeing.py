"""What a faint specimen shows by itself and what bias adds to it: writes seeing.json beside it.

    python make_seeing.py       # about 15 s on one core

Every Jones matrix comes from ../optics/model.py. See readings.md.
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

import numpy as np                      # noqa: E402
from scipy.optimize import brentq       # noqa: E402

HERE, SCRIPT = Path(__file__).parent, Path(__file__).name
sys.path[:0] = [str(HERE.parent / "optics"), str(HERE.parent)]
import model                            # noqa: E402
from records import write               # noqa: E402

READINGS = model.first_readings()
NM = np.arange(380.0, 781.0, 5.0)
GRIDS = [(8, 24), (12, 48), (16, 96), (24, 192), (32, 384)]
SETTLED = 1e-8

# Scenario, and whether its first-order plate is out or in.
STANDS = [("stand", "out"), ("radial", "out"), ("plate", "out"), ("plate", "in")]
STRAINS = [(0, 45)] + [(nm, azimuth) for nm in (2, 5, 10) for azimuth in (45, 160)]
SPECIMENS = [0.5, 1.0, 2.0, 5.0]
SEEN = 0.1                              # own light over background
FAINT = 2.0                             # the specimen for which the strain is sought
NOTHING = 1e-10                         # bias over background below this is rounding


# ----------------------------------------------------------------------------------------------
# Scenarios
# ----------------------------------------------------------------------------------------------
def read(name):
    return tomllib.loads((HERE / f"{name}.toml").read_text())


def uniform_of(scenario):
    """The uniform strain of the objective: the last of its profiles."""
    return next(p for p in scenario["part"] if "objective" in p)["strain"][-1]["uniform"]


def altered(scenario, strain, specimen):
    """The scenario with that uniform strain (nm, degrees) and a stated specimen right behind the slide."""
    scenario = copy.deepcopy(scenario)
    uniform_of(scenario).update(path_difference_nm=strain[0], azimuth_deg=strain[1])
    at = 1 + next(i for i, p in enumerate(scenario["part"]) if "slide" in p)
    scenario["part"].insert(at, {"specimen": {"path_difference_nm": specimen[0], "azimuth_deg": specimen[1]}})
    return scenario


# ----------------------------------------------------------------------------------------------
# A uniform retarder is cos h 1 + sin h (cos 2a iZ + sin 2a iX), h = pi Gamma / lambda, Z = diag(1, -1),
# X = [[0, 1], [1, 0]]. The field behind strain and specimen is therefore a sum of nine, and the mean
# products of those nine over the aperture hold the light of every strain and of every specimen.
# ----------------------------------------------------------------------------------------------
BASIS = np.array([[[1, 0], [0, 1]], [[1j, 0], [0, -1j]], [[0, 1j], [1j, 0]]])[..., None, None]


def shares(nm, azimuth):
    """Factors of 1, iZ and iX, shape (3, L); azimuth in degrees."""
    half, turn = np.pi * nm / NM, np.radians(2 * azimuth)
    return np.array([np.cos(half), np.sin(half) * np.cos(turn), np.sin(half) * np.sin(turn)])


def mean_products(fields, weight):
    """Half the weighted sum over rays of Re tr(F_j F_k^dagger), shape (F, F, L): unpolarized light."""
    stacked = np.array([(f * np.sqrt(weight / 2)).transpose(2, 0, 1, 3).reshape(f.shape[2], -1) for f in fields])
    flat = stacked.transpose(1, 0, 2)
    return (flat @ flat.conj().transpose(0, 2, 1)).real.transpose(1, 2, 0)


class Stand:
    """The mean products of one scenario, plate out or in, on one grid."""

    def __init__(self, name, plate, grid):
        scenario = read(name)
        strain = uniform_of(scenario)
        stack = model.Stack(scenario, HERE, READINGS)
        kinds = [kind for kind, _, _ in stack.parts]
        objective = kinds.index("objective")
        assert kinds[objective - 1] == "slide" and set(kinds[objective + 1:-1]) <= {"plate"}
        self.luminous = model.lamp(scenario["light"], NM, HERE, READINGS) * model.observer(NM)[1]
        self.stray = scenario.get("stray", {}).get("fraction", 0.0)
        self.crossed, self.parallel = np.empty((9, 9, NM.size)), np.empty((3, 3, NM.size))
        for start in range(0, NM.size, 9):
            piece = slice(start, start + 9)
            ray = model.Rays(stack.aperture, *grid, NM[piece])
            before = model.turned(0.0, np.ones((ray.nm.size, ray.s.size), complex), np.ones(1))
            for number in range(objective):
                before = model.multiply(stack.part_jones(number, ray), before)
            bodies = []
            # Half a wave of strain is iZ with its slow axis at 0 degrees and iX with it at 45.
            for half_wave, azimuth in ((0.0, 0.0), (ray.nm / 2, 0.0), (ray.nm / 2, 45.0)):
                strain.update(path_difference_nm=half_wave, azimuth_deg=azimuth)
                bodies.append(stack.part_jones(objective, ray))
            after = stack.part_jones(len(kinds) - 1, ray)
            for number in range(objective + 1, len(kinds) - 1) if plate == "in" else ():
                after = model.multiply(after, stack.part_jones(number, ray))
            along = model.sheet_jones(dict(stack.parts[-1][1], azimuth_deg=stack.lower_azimuth), ray, stack, "image")
            specimens = [model.multiply(basis, before) for basis in BASIS]
            self.crossed[:, :, piece] = mean_products(
                [model.multiply(model.multiply(after, body), s) for body in bodies for s in specimens], ray.weight)
            self.parallel[:, :, piece] = mean_products(
                [model.multiply(model.multiply(along, body), before) for body in bodies], ray.weight)


class Seen:
    """Luminous light of a stand with one strain, relative to its parallel field, for any specimen."""

    def __init__(self, stand, strain):
        u = shares(*strain)
        products = np.einsum("al,bl,aibjl->ijl", u, u, stand.crossed.reshape(3, 3, 3, 3, -1))
        parallel = np.einsum("al,bl,abl->l", u, u, stand.parallel)
        self.products = products * stand.luminous / np.sum(stand.luminous * parallel)
        self.background = np.sum(self.products[0, 0]) + stand.stray

    def light(self, nm, azimuth):
        """I(a, G), relative luminance."""
        c = shares(nm, azimuth)
        return np.einsum("il,jl,ijl->", c, c, self.products) + self.background - np.sum(self.products[0, 0])

    def own_waves(self, nm):
        """(mean, cos 4a, sin 4a) of own: sum sin^2 h (cos^2 2a ZZ + sin^2 2a XX + 2 cos 2a sin 2a ZX - I0)."""
        p, s2 = self.products, np.sin(np.pi * nm / NM) ** 2
        return [np.sum(s2 * x) for x in ((p[1, 1] + p[2, 2]) / 2 - p[0, 0], (p[1, 1] - p[2, 2]) / 2, p[1, 2])]

    def bias_waves(self, nm):
        """(cos 2a, sin 2a) of bias: sum 2 cos h sin h (cos 2a 0Z + sin 2a 0X)."""
        s = np.sin(2 * np.pi * nm / NM)
        return np.sum(s * self.products[0, 1]), np.sum(s * self.products[0, 2])

    def best_own(self, nm):
        """The azimuth from 0 to 90 where own is largest, and own over background there."""
        mean, c, s = self.own_waves(nm)
        return np.degrees(np.arctan2(s, c) / 4) % 90, (mean + np.hypot(c, s)) / self.background

    def best_bias(self, nm):
        """The azimuth from 0 to 180 where bias is largest, and bias over background there; None where there is none."""
        c, s = self.bias_waves(nm)
        most = np.hypot(c, s) / self.background
        return (np.degrees(np.arctan2(s, c) / 2) % 180, most) if most > NOTHING else (None, 0.0)

    def at(self, nm, azimuth):
        """What is seen of the specimen at an azimuth, everything over the background."""
        turn = np.radians(2 * azimuth)
        mean, c4, s4 = self.own_waves(nm)
        c2, s2 = self.bias_waves(nm)
        own = (mean + c4 * np.cos(2 * turn) + s4 * np.sin(2 * turn)) / self.background
        bias = (c2 * np.cos(turn) + s2 * np.sin(turn)) / self.background
        # The same from the light itself, where rounding of the background is left in small differences.
        for sign, turned in ((1, 0), (-1, 0), (-1, 90), (1, 90)):
            contrast = self.light(sign * nm, azimuth + turned) / self.background - 1
            assert abs(contrast - own - (bias if turned == 0 else -bias) * sign) < 1e-11
        bias = bias if abs(bias) > NOTHING else 0.0
        return {"azimuth_deg": float(azimuth), "own": own, "bias": bias, "contrast": own + bias, "contrast_turned": own - bias}


# ----------------------------------------------------------------------------------------------
# Answers
# ----------------------------------------------------------------------------------------------
def contrasts(stand):
    for strain in STRAINS:
        seen = Seen(stand, strain)
        for nm in SPECIMENS:
            azimuth, most = seen.best_own(nm)
            along, bias = seen.best_bias(nm)
            record = {"strain_nm": strain[0], "strain_azimuth_deg": strain[1], "path_difference_nm": nm,
                      "background": seen.background, "at_own": seen.at(nm, azimuth),
                      "at_bias": None if along is None else seen.at(nm, along)}
            assert abs(record["at_own"]["own"] / most - 1) < 1e-8
            assert along is None or abs(record["at_bias"]["bias"] / bias - 1) < 1e-8
            yield record


def root(function, bracket):
    return brentq(function, *bracket, xtol=1e-13, rtol=1e-13)


def smallest_specimens(stand):
    """The path difference at which own is SEEN of the background at the azimuth where it is largest."""
    for strain in STRAINS:
        seen = Seen(stand, strain)
        amounts = np.arange(0.25, 100, 0.25)
        first = next(nm for nm in amounts if seen.best_own(nm)[1] > SEEN)
        nm = root(lambda g: seen.best_own(g)[1] - SEEN, (first - 0.25, first))  # noqa: B023
        yield {"strain_nm": strain[0], "strain_azimuth_deg": strain[1], "share": SEEN,
               "path_difference_nm": nm, "azimuth_deg": float(seen.best_own(nm)[0])}


def strain_at(stand, azimuth):
    """The smallest uniform strain at which the faint specimen's own is SEEN of the background."""
    excess = lambda nm: Seen(stand, (nm, azimuth)).best_own(FAINT)[1] - SEEN  # noqa: E731
    if excess(0.0) <= 0:
        return None
    amounts = np.arange(0.25, 60, 0.25)
    first = next((nm for nm in amounts if excess(nm) < 0), None)
    return None if first is None else root(excess, (first - 0.25, first))


def least_azimuths(stand):
    """The azimuths whose tolerated strain is the smallest; two where they are alike."""
    azimuths = np.arange(0.5, 180, 3.0)
    amounts = np.array([strain_at(stand, a) or np.inf for a in azimuths])
    lows = [i for i in range(azimuths.size)
            if amounts[i] <= amounts[i - 1] and amounts[i] <= amounts[(i + 1) % azimuths.size]]
    found = []
    for i in lows:
        nm = amounts[i]
        # Where own over background is smallest for a strain is where that strain's azimuth is least tolerated.
        for _ in range(4):
            share = lambda a: Seen(stand, (nm, a)).best_own(FAINT)[1]  # noqa: B023, E731
            step = 0.1
            # A central difference is off by its step squared; the second, of half the step, takes that error away.
            slope = lambda a: 8 * (share(a + step / 2) - share(a - step / 2)) - (share(a + step) - share(a - step))  # noqa: B023, E731
            azimuth = brentq(slope, azimuths[i] - 3, azimuths[i] + 3, xtol=1e-10)
            nm = strain_at(stand, azimuth)
        found.append((nm, azimuth % 180))
    least = min(found)[0]
    return least, [a for nm, a in sorted(found, key=lambda x: x[1]) if nm < least * (1 + 1e-9)]


def strain_limits(stand):
    """The uniform strain of the objective at which the faint specimen's own is SEEN of the background."""
    nm = strain_at(stand, 45.0)
    if nm is None:
        yield {"specimen_nm": FAINT, "share": SEEN, "strain_azimuth": "45", "strain_azimuths_deg": [45.0], "strain_nm": None}
        return
    least, azimuths = least_azimuths(stand)
    for word, strain, where in (("45", nm, [45.0]), ("least", least, azimuths)):
        yield {"specimen_nm": FAINT, "share": SEEN, "strain_azimuth": word, "strain_azimuths_deg": where, "strain_nm": strain,
               "background": Seen(stand, (strain, where[0])).background}


def numbers(value):
    """Every number of a record, in order."""
    if isinstance(value, dict):
        return [n for v in value.values() for n in numbers(v)]
    if isinstance(value, list):
        return [n for v in value for n in numbers(v)]
    return [value] if isinstance(value, (int, float)) else []


def settled(name, plate):
    """All answers for one stand, on ever finer grids until none moves by 1e-8 of itself."""
    def answers(grid):
        stand = Stand(name, plate, grid)
        return [{"answer": kind} | record for kind, found in (
            ("contrast", contrasts(stand)), ("smallest specimen", smallest_specimens(stand)),
            ("strain limit", strain_limits(stand))) for record in found]
    result = answers(GRIDS[0])
    for grid in GRIDS[1:]:
        coarse, result = result, answers(grid)
        moved = [max([abs(a / b - 1) if b else abs(a) for a, b in zip(numbers(x), numbers(y))] or [0.0])
                 for x, y in zip(coarse, result, strict=True)]
        if max(moved) < SETTLED:
            confirm(name, plate, grid, result)
            return [{"scenario": name, "plate": plate} | record | {"grid": list(grid), "last_relative_change": change}
                    for record, change in zip(result, moved)]
    raise ValueError(f"{name}, plate {plate}: the quadrature does not settle: {max(moved):.1e}")


def confirm(name, plate, grid, records):
    """The same light from whole runs of the model with the specimen in place."""
    for record in records:
        if record["answer"] == "contrast" and (record["strain_nm"], record["path_difference_nm"]) in ((5, 2.0), (0, 5.0)):
            for there in filter(None, (record["at_own"], record["at_bias"])):
                strain = record["strain_nm"], record["strain_azimuth_deg"]
                whole = []
                for specimen in ((record["path_difference_nm"], there["azimuth_deg"]), (0.0, 0.0)):
                    run = model.predict_scenario(altered(read(name), strain, specimen), HERE, grid=grid)
                    whole.append(run["background"]["with_plate" if plate == "in" else "without_plate"]["relative_luminance"])
                contrast = (whole[0] - whole[1]) / whole[1]
                assert abs(whole[1] / record["background"] - 1) < 1e-11, (name, plate, whole)
                assert abs(contrast - there["contrast"]) < 1e-11, (name, plate, contrast, there)


def main():
    write(HERE / "seeing.json", SCRIPT, [record for stand in STANDS for record in settled(*stand)], step_nm=5,
          what="own and bias of a faint stated specimen right behind the slide, over the background; "
               "the objective's uniform strain replaced by strain_nm at strain_azimuth_deg")


if __name__ == "__main__":
    main()
