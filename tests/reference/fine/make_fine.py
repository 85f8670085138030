"""Crossed fields with fringes or lamps narrower than a 5 nm step, by ever finer sums: writes fine.json beside it.

    python make_fine.py       # about 20 s on one core

Every Jones matrix comes from ../optics/model.py. See readings.md.
"""
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
sys.path[:0] = [str(HERE.parent / "optics"), str(HERE.parent)]
import model                            # noqa: E402
from records import write               # noqa: E402

READINGS = model.first_readings()
LOW, HIGH = 380.0, 780.0
STEPS = [5, 2.5, 1, 0.5, 0.25, 0.1, 0.05]
# A parabola through the last three steps at step 0. Both ends of a plain sum count whole, which leaves an error in
# proportion to the step; the kinks of lamp and observer, which lie on whole nanometres, leave one that goes with its square.
TO_ZERO = {0.25: 1 / 6, 0.1: -5 / 3, 0.05: 5 / 2}
POINTS = [6, 9, 13, 19, 28]             # of the integral, in each nanometre
INTEGRAL_SETTLED = 1e-9                 # of Y
RAYS_SETTLED = 1e-9                     # of every spectral value at 5 nm
GRIDS = {
    "along": [(6, 24), (8, 32), (12, 64), (16, 96), (24, 144), (32, 192), (48, 288)],
    "across": [(12, 24), (18, 32), (27, 40), (40, 48), (60, 64)],
    "line": [(4, 16), (6, 24), (8, 32)],
}
NODES = 48                              # in wavelength, of what changes slowly

CASES = [
    {"scenario": "along", "thickness_um": 200, "na": 0.05},
    {"scenario": "along", "thickness_um": 200, "na": 0.25},
    {"scenario": "along", "thickness_um": 1000, "na": 0.05},
    {"scenario": "along", "thickness_um": 1000, "na": 0.25},
    {"scenario": "across", "thickness_um": 200, "na": 0.5},
    {"scenario": "line", "width_nm": 2, "na": 0.1},
    {"scenario": "line", "width_nm": 0.5, "na": 0.1},
]


def scenario_of(case):
    scenario = tomllib.loads((HERE / f"{case['scenario']}.toml").read_text())
    scenario["aperture"]["na"] = case["na"]
    if "width_nm" in case:
        scenario["light"]["source"]["width_nm"] = case["width_nm"]
    for part in scenario["part"]:
        if "specimen" in part:
            part["specimen"]["thickness_um"] = case["thickness_um"]
    return scenario


def grid_of_step(step):
    return LOW + step * np.arange(round((HIGH - LOW) / step) + 1)


# ----------------------------------------------------------------------------------------------
# What changes slowly with wavelength is worked out at Chebyshev nodes and interpolated, which leaves an error of 1e-13 or
# so; only the phase of the crystal is worked out at every wavelength.
# ----------------------------------------------------------------------------------------------
ANGLES = np.pi * (np.arange(NODES) + 0.5) / NODES
NODE_NM = (LOW + HIGH) / 2 + (HIGH - LOW) / 2 * np.cos(ANGLES)


def from_nodes(nm):
    """Matrix (L, NODES) that takes values at the nodes to the wavelengths nm: T_k(x) times the discrete cosine sums."""
    order = np.arange(NODES)
    sums = np.cos(np.outer(order, ANGLES)) * 2 / NODES
    sums[0] /= 2
    x = np.clip((nm - (LOW + HIGH) / 2) / ((HIGH - LOW) / 2), -1, 1)
    return np.cos(np.outer(np.arccos(x), order)) @ sums


def path_and_vibration(part, ray):
    """Gamma of a plate, nm, and azimuth of the extraordinary vibration: the same formulas as in model.specimen_jones."""
    no, ne = model.crystal_indices(part["material"], ray.nm, READINGS)
    thickness = 1000 * part["thickness_um"]
    if part["cut"] == "across":
        return thickness * model.uniaxial_across_path_per_thickness(no, ne, ray.s), ray.phi
    turn = np.radians(part["azimuth_deg"]) - ray.phi
    path = model.uniaxial_path_per_thickness(no, ne, ray.s * np.cos(turn), ray.s * np.sin(turn))
    return thickness * path, ray.phi + np.arctan2(np.sin(turn), model.cosine(ray.s, (no + ne) / 2) * np.cos(turn))


class Fields:
    """The transmittances of one case, means over the aperture for unpolarized light, at any wavelengths."""

    def __init__(self, case, grid):
        self.case, self.grid = case, grid
        self.stack = model.Stack(scenario_of(case), HERE, READINGS)
        self.kinds = [kind for kind, _, _ in self.stack.parts]
        self.specimen = next((part for kind, part, _ in self.stack.parts if kind == "specimen"), None)
        analyzer = self.stack.parts[-1][1]
        along = dict(analyzer, azimuth_deg=self.stack.lower_azimuth)
        # Mean over the aperture at the nodes, of fields that hold no crystal.
        ray = self.rays(NODE_NM)
        self.means = {"parallel": self.intensity(self.field(ray, along, {"plate", "specimen"}), ray)}
        if self.specimen is None:
            self.means["out"] = self.intensity(self.field(ray, analyzer, {"plate"}), ray)
        if "plate" in self.kinds:
            assert self.specimen is None
            self.means["in"] = self.intensity(self.field(ray, analyzer, set()), ray)
        if self.specimen is not None:
            # The crystal is cos(h) 1 + sin(h) N, N a half wave: light cos^2 h A + sin^2 h B + sin 2h C on each ray.
            none = self.field(ray, analyzer, {"plate", "specimen"})
            vibration = path_and_vibration(self.specimen, ray)[1]
            half_wave = model.turned(vibration, 1j, -1j)
            halved = self.field(ray, analyzer, {"plate"}, half_wave)
            each = lambda f, g: np.sum((f * g.conj()).real, axis=(0, 1)) / 2 * ray.weight  # noqa: E731
            a, b, c = each(none, none), each(halved, halved), each(none, halved)
            self.constant, self.cosine, self.sine = np.sum(a + b, axis=1) / 2, (a - b) / 2, c

    def rays(self, nm):
        """Those of the grid on one side of a diameter: nothing in these stacks tells a ray from that at phi + 180 degrees."""
        ray = model.Rays(self.stack.aperture, *self.grid, nm)
        one_side = ray.phi[0] < np.pi
        ray.s, ray.phi, ray.weight = ray.s[:, one_side], ray.phi[:, one_side], 2 * ray.weight[one_side]
        return ray

    def field(self, ray, analyzer, leave_out, specimen=None):
        result = model.turned(0.0, np.ones((ray.nm.size, ray.s.size), complex), np.ones(1))
        for number, kind in enumerate(self.kinds[:-1]):
            if kind not in leave_out:
                element = specimen if kind == "specimen" else self.stack.part_jones(number, ray)
                result = model.multiply(element, result)
        return model.multiply(model.sheet_jones(analyzer, ray, self.stack, self.stack.spaces[-1]), result)

    def intensity(self, field, ray):
        return np.sum(np.abs(field) ** 2, axis=(0, 1)) @ ray.weight / 2

    def at(self, nm):
        """Transmittances parallel, out and, with a plate, in."""
        matrix = from_nodes(nm)
        result = {arm: matrix @ mean for arm, mean in self.means.items()}
        if self.specimen is not None:
            result["out"] = matrix @ self.constant
            chunk = max(1, 100_000 // self.cosine.shape[1])
            for start in range(0, nm.size, chunk):
                piece = slice(start, start + chunk)
                path, _ = path_and_vibration(self.specimen, self.rays(nm[piece]))
                phase = 2 * np.pi * path / nm[piece, None]
                result["out"][piece] += np.sum((matrix[piece] @ self.cosine) * np.cos(phase)
                                               + (matrix[piece] @ self.sine) * np.sin(phase), axis=1)
        return result


def settled_fields(case):
    nm = grid_of_step(5)
    finer = iter(GRIDS[case["scenario"]])
    fields = Fields(case, next(finer))
    now = fields.at(nm)
    for grid in finer:
        before, fields = now, Fields(case, grid)
        now = fields.at(nm)
        change = max(float(np.max(np.abs(now[arm] / before[arm] - 1))) for arm in now)
        if change < RAYS_SETTLED:
            return fields, change
    raise ValueError(f"{case}: the rays do not settle: {change:.1e}")


def confirm(fields):
    """The model itself, whole, every 5 nm and every 0.1 nm of one nanometre in the green."""
    for low, high, step in ((LOW, HIGH, 5), (545.0, 546.0, 0.1)):
        scenario = scenario_of(fields.case) | {"spectrum": {"from_nm": low, "to_nm": high, "step_nm": step}}
        run = model.predict_scenario(scenario, HERE, grid=fields.grid)["spectrum"]
        here = fields.at(np.array(run["wavelength_nm"]))
        for arm, there in (("parallel", "parallel"), ("out", "crossed"), ("in", "crossed_with_plate")):
            if arm in here:
                off = np.max(np.abs(here[arm] / np.array(run[there]) - 1))
                assert off < 1e-10, (fields.case, arm, off)


def tristimulus(case, fields, nm, weights):
    """XYZ of the crossed fields over the parallel field's Y."""
    light = scenario_of(case)["light"]
    source, matching = weights * model.lamp(light, nm, HERE, READINGS), model.observer(nm)
    seen = fields.at(nm)
    reference = np.sum(source * matching[1] * seen["parallel"])
    return {arm: matching @ (source * seen[arm]) / reference for arm in ("out", "in") if arm in seen}


def integral(case, fields):
    """Gauss-Legendre in each nanometre, between the kinks of lamp and observer, until Y stands still."""
    before = None
    for points in POINTS:
        node, weight = np.polynomial.legendre.leggauss(points)
        nm = (np.arange(LOW, HIGH)[:, None] + (node + 1) / 2).ravel()
        now = tristimulus(case, fields, nm, np.tile(weight / 2, int(HIGH - LOW)))
        if before is not None:
            change = max(float(abs(before[arm][1] / now[arm][1] - 1)) for arm in now)
            if change < INTEGRAL_SETTLED:
                return now, points, change
        before = now
    raise ValueError(f"{case}: the integral does not settle: {change:.1e}")


def record(case, seen, **more):
    plate_in = seen.get("in")
    return case | more | {"xyz": seen["out"].tolist(), "xyz_with_plate": None if plate_in is None else plate_in.tolist(),
                          "extinction_ratio": float(1 / seen["out"][1])}


def records():
    for case in CASES:
        fields, ray_change = settled_fields(case)
        confirm(fields)
        sums = []
        for step in STEPS:
            nm = grid_of_step(step)
            sums.append(tristimulus(case, fields, nm, np.ones_like(nm)))
            yield record(case, sums[-1], sum="step", step_nm=step)
        last = dict(zip(STEPS, sums))
        beyond = {arm: sum(share * last[step][arm] for step, share in TO_ZERO.items()) for arm in sums[-1]}
        moved = max(float(abs(sums[-2][arm][1] / sums[-1][arm][1] - 1)) for arm in beyond)
        yield record(case, beyond, sum="extrapolated", step_nm=None, last_relative_change=moved)
        seen, points, change = integral(case, fields)
        yield record(case, seen, sum="integral", step_nm=None, points_per_nm=points, last_relative_change=change,
                     grid=list(fields.grid), rays={"last_relative_change": ray_change})


def main():
    write(HERE / "fine.json", SCRIPT, records(), from_nm=LOW, to_nm=HIGH,
          what="crossed fields over the parallel field's luminance, by plain sums of finer and finer steps and by the integral; "
               "na, thickness_um and width_nm replace those of SCENARIO.toml")


if __name__ == "__main__":
    main()
