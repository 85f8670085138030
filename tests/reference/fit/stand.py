"""The ratio of a stand at a setting, for many stands at once: ../optics/model.py with the strain left free.

It handles what the benches of this folder need: lower polar, condenser, slide, objective, analyzer in this order; bare lenses of equal
bending; uniform strain crossed before radial strain in each lens; a lens turned; the condenser out.  Light vectors are kept in the
meridional and tangential directions (p, s) of each ray, where surfaces and radial strain are diagonal.  Arrays have the axes
(stands, wavelengths, nodes of s, azimuths).

Strain that is uniform and radial, seen through round lenses, has no harmonic above 12 phi in the intensity, and opposite azimuths count
alike, so seven azimuths over half a turn give the mean over phi exactly; model.py with fourteen over the whole turn is the same sum.
"""
import copy
import math
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "optics"))
import model                            # noqa: E402

NODES, AZIMUTHS = 6, 14                 # Gauss-Legendre in s^2; equally spaced over a whole turn
PHYSICAL = ("condenser.uniform.cos_nm", "condenser.uniform.sin_nm", "condenser.radial.edge_nm",
            "objective.uniform.cos_nm", "objective.uniform.sin_nm", "objective.radial.edge_nm",
            "lower polar.k2", "analyzer.azimuth_deg", "stray.fraction")


@dataclass(frozen=True)
class Setting:
    na: float
    analyzer_deg: float
    turn_objective_deg: float
    out: str

    @property
    def state(self):
        """Settings that differ by the analyzer alone share the light before it."""
        return self.na, self.turn_objective_deg, self.out


def read(path):
    return tomllib.loads(path.read_text())


def part(scenario, kind):
    entry = next(p for p in scenario["part"] if kind in p)
    return entry[kind], entry.get("strain", [])


def vector(profile):
    """(G cos 2a, G sin 2a)"""
    a = math.radians(2 * profile["azimuth_deg"])
    return profile["path_difference_nm"] * math.cos(a), profile["path_difference_nm"] * math.sin(a)


def written(scenario, stray=1e-5):
    """The numbers of the file, in the order of PHYSICAL."""
    result = []
    for kind in ("condenser", "objective"):
        profiles = {k: v for profile in part(scenario, kind)[1] for k, v in profile.items()}
        result += vector(profiles["uniform"]) if "uniform" in profiles else (0.0, 0.0)
        result.append(profiles["radial"]["edge_nm"] if "radial" in profiles else 0.0)
    result += [part(scenario, "polarizer")[0]["sheet"]["k2"], part(scenario, "analyzer")[0]["azimuth_deg"],
               scenario.get("stray", {}).get("fraction", stray)]
    return dict(zip(PHYSICAL, map(float, result)))


# ----------------------------------------------------------------------------------------------
# By model.py, one stand at a time
# ----------------------------------------------------------------------------------------------
def changed(scenario, values, setting):
    """The scenario with these numbers, at this setting."""
    scenario = copy.deepcopy(scenario)
    at = dict(zip(PHYSICAL, map(float, values)))
    for entry in scenario["part"]:
        for kind in ("condenser", "objective"):
            if kind not in entry:
                continue
            turn = setting.turn_objective_deg if kind == "objective" else 0.0
            c, s = at[f"{kind}.uniform.cos_nm"], at[f"{kind}.uniform.sin_nm"]
            uniform = {"path_difference_nm": math.hypot(c, s), "azimuth_deg": math.degrees(math.atan2(s, c)) / 2 + turn}
            entry["strain"] = [{"uniform": uniform}, {"radial": {"edge_nm": at[f"{kind}.radial.edge_nm"]}}]
        for kind in ("polarizer", "analyzer"):
            if kind in entry:
                entry[kind]["sheet"]["k2"] = at["lower polar.k2"]
        if "analyzer" in entry:
            # as its ring reads, plus what the ring is off
            entry["analyzer"]["azimuth_deg"] += setting.analyzer_deg - 90 + at["analyzer.azimuth_deg"] - 90
    scenario["aperture"]["na"] = setting.na
    scenario["stray"] = {"fraction": at["stray.fraction"]}
    scenario["part"] = [p for p in scenario["part"] if not (setting.out == "condenser" and "condenser" in p)]
    return scenario


def slow_ratio(scenario, values, setting, grid=(NODES, AZIMUTHS), readings=None):
    return model.predict_scenario(changed(scenario, values, setting), HERE, readings, grid)["extinction_ratio"]


# ----------------------------------------------------------------------------------------------
# Many stands at once
# ----------------------------------------------------------------------------------------------
class Light:
    """What does not depend on the unknowns, at one iris and with the condenser in or out."""

    def __init__(self, scenario, na, out):
        readings = model.first_readings()
        spectrum = scenario["spectrum"]
        low, high, step = spectrum["from_nm"], spectrum["to_nm"], spectrum["step_nm"]
        nm = low + step * np.arange(round((high - low) / step) + 1, dtype=float)
        weight = model.lamp(scenario["light"], nm, HERE, readings) * model.observer(nm)[1]
        (condenser, _), (slide, _), (objective, _) = (part(scenario, k) for k in ("condenser", "slide", "objective"))
        self.sheet = part(scenario, "polarizer")[0]
        self.with_condenser = out != "condenser"
        aperture = min(na, objective["na"], condenser["na"] if self.with_condenser else math.inf)
        ray = model.Rays(aperture, NODES, AZIMUTHS, nm)
        half_turn = AZIMUTHS // 2
        s = ray.s.reshape(NODES, AZIMUTHS)[:, 0]
        phi = ray.phi.reshape(NODES, AZIMUTHS)[0, :half_turn]
        rays = ray.weight.reshape(NODES, AZIMUTHS)[:, :half_turn] * 2
        self.nm = nm[:, None, None]
        self.s, self.phi = s[None, :, None], phi[None, None, :]
        self.cos2, self.sin2 = np.cos(2 * self.phi), np.sin(2 * self.phi)
        self.weight = weight[:, None, None] * rays[None]
        glass = lambda lens: float(lens["glass"])                                # noqa: E731

        def half_lens(lens):
            t = model.lens_surface(np.arcsin(s) / lens["surfaces"], glass(lens), "none", nm[:, None])
            return [model.power_unwrapped(a, lens["surfaces"] / 2).real[..., None] * np.ones((nm.size, 1, 1)) for a in t]

        layers = [1.0, glass(slide), float(slide["mount"]), glass(slide), 1.0]
        faces = [1.0, 1.0]
        for n1, n2 in zip(layers, layers[1:]):
            faces = [a * b for a, b in zip(faces, model.interface(s, n1, n2))]
        self.objective_half = half_lens(objective)
        self.condenser_half = half_lens(condenser) if self.with_condenser else None
        self.middle = [f[None, :, None] * o for f, o in zip(faces, self.objective_half)]
        if self.with_condenser:
            self.middle = [m * c for m, c in zip(self.middle, self.condenser_half)]
        self.r2 = {"condenser": (s / condenser["na"])[None, :, None] ** 2, "objective": (s / objective["na"])[None, :, None] ** 2}

    def lower_sheet(self, k2):
        """The lower polar in the cone of rays (condenser out): its columns in (p, s), for many k2."""
        s, phi, film = self.s, self.phi, self.sheet.get("index", 1.5)
        inside = np.sqrt(1 - (s / film) ** 2)
        turn = math.radians(self.sheet["azimuth_deg"]) + math.pi / 2 - phi
        a_p, a_s = inside * np.cos(turn), np.sin(turn)
        sin2 = a_p**2 + a_s**2
        u, v = a_p / np.sqrt(sin2), a_s / np.sqrt(sin2)
        t0 = (4 * film / (1 + film) ** 2) ** 2
        alpha_1 = max(0.0, -math.log(self.sheet["sheet"]["k1"] / t0))
        alpha_2 = -np.log(k2 / t0)[:, None, None, None]
        t1 = np.exp(-alpha_1 / (2 * inside))
        t2 = np.exp(-(alpha_2 * sin2 + alpha_1 * (1 - sin2)) / (2 * inside))
        in_p, in_s = model.interface(s, 1.0, film)
        out_p, out_s = model.interface(s, film, 1.0)
        return (((t1 * v * v + t2 * u * u) * in_p * out_p, (t2 - t1) * u * v * in_p * out_s),
                ((t2 - t1) * u * v * in_s * out_p, (t1 * u * u + t2 * v * v) * in_s * out_s))

    def uniform(self, field, c, s):
        """Retarder of components (c, s), slow at azimuth b = a - phi from the meridional plane:
        cos h + i sin h [[cos 2b, sin 2b], [sin 2b, -cos 2b]], h = pi Gamma / lambda."""
        c, s = c[:, None, None, None], s[:, None, None, None]
        gamma = np.hypot(c, s)
        h = np.pi * gamma / self.nm
        along, size = np.cos(h), 1j * (np.pi / self.nm) * np.sinc(h / np.pi)
        one, two = size * (c * self.cos2 + s * self.sin2), size * (s * self.cos2 - c * self.sin2)
        p, q = field
        return (along + one) * p + two * q, two * p + (along - one) * q

    def radial(self, field, edge, kind):
        turn = np.exp(1j * np.pi * edge[:, None, None, None] * self.r2[kind] / self.nm)
        return field[0] * turn, field[1] * np.conj(turn)

    def stokes(self, values, turn_objective_deg):
        """Weighted (S0, S1, S2) after the objective, for each of two inputs that together are the unpolarized lamp.
        Shape (2, 3, stands).  Through a sheet before the condenser they still lack its transmittances k1, k2."""
        at = dict(zip(PHYSICAL, values.T))
        if self.with_condenser:
            one, zero = np.cos(self.phi).reshape(1, 1, 1, -1), -np.sin(self.phi).reshape(1, 1, 1, -1)
            inputs = [(one, zero), (-zero, one)]                                 # Ex = 1, then Ey = 1, in (p, s)
        else:
            inputs = self.lower_sheet(at["lower polar.k2"])
        angle = math.radians(2 * turn_objective_deg)
        c, s = at["objective.uniform.cos_nm"], at["objective.uniform.sin_nm"]
        c, s = c * math.cos(angle) - s * math.sin(angle), s * math.cos(angle) + c * math.sin(angle)
        result = np.empty((2, 3, len(values)))
        for k, field in enumerate(inputs):
            if self.with_condenser:
                field = [f * t for f, t in zip(field, self.condenser_half)]
                field = self.uniform(field, at["condenser.uniform.cos_nm"], at["condenser.uniform.sin_nm"])
                field = self.radial(field, at["condenser.radial.edge_nm"], "condenser")
            field = [f * t for f, t in zip(field, self.middle)]
            field = self.uniform(field, c, s)
            # radial strain of the objective, its last half and the frame: only |p|^2, |s|^2 and p s* are needed
            edge = at["objective.radial.edge_nm"][:, None, None, None]
            p, q = (f * t for f, t in zip(field, self.objective_half))
            if np.any(edge):
                p = p * np.exp(2j * np.pi * edge * self.r2["objective"] / self.nm)
            pp, qq = p.real**2 + p.imag**2, q.real**2 + q.imag**2
            cross = 2 * (p.real * q.real + p.imag * q.imag)
            total = lambda x: np.einsum("nlsf,lsf->n", x, self.weight)           # noqa: E731
            result[k] = (total(pp + qq), total((pp - qq) * self.cos2 - cross * self.sin2),
                         total((pp - qq) * self.sin2 + cross * self.cos2))
        return result


class Bench:
    def __init__(self, scenario, settings):
        self.settings = settings
        self.k1 = part(scenario, "polarizer")[0]["sheet"]["k1"]
        lights = {}
        for setting in settings:
            lights.setdefault((setting.na, setting.out), Light(scenario, setting.na, setting.out))
        self.states = {setting.state: lights[setting.na, setting.out] for setting in settings}

    def ratios(self, values, chunk=64):
        """values (stands, PHYSICAL); the ratio parallel over crossed at each setting, (stands, settings)."""
        values = np.atleast_2d(values)
        return np.concatenate([self.piece(values[i:i + chunk]) for i in range(0, len(values), chunk)])

    def piece(self, values):
        k1, k2, azimuth, stray = self.k1, values[:, 6], values[:, 7], values[:, 8]
        light = {}
        for state, lit in self.states.items():
            x, y = lit.stokes(values, state[1])
            light[state] = (k1 * x + k2 * y) / 2 if lit.with_condenser else (x + y) / 2
        result = np.empty((len(values), len(self.settings)))
        for i, setting in enumerate(self.settings):
            s0, s1, s2 = light[setting.state]
            double = np.radians(2 * (setting.analyzer_deg - 90 + azimuth))
            crossed = (k1 + k2) / 2 * s0 + (k1 - k2) / 2 * (s1 * np.cos(double) + s2 * np.sin(double))
            parallel = (k1 + k2) / 2 * s0 + (k1 - k2) / 2 * s1
            result[:, i] = parallel / (crossed + stray * parallel)
        return result
