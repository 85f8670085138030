"""Brute-force answers to "where does the lower polar belong" and "how much is tolerable", by root finding on model.py.

    python decide.py        # writes decisions.json, about a minute on one core

Every root is found again with finer quadratures until it moves by less than 1e-8 of itself.
"""
import copy
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

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "optics"))
import model                            # noqa: E402

GRIDS = [(8, 24), (12, 48), (16, 96), (24, 192), (32, 384)]
SETTLED = 1e-8

# Scenario, two places, what varies, its bracket. A place is (parts of the stack before the sheet, contact).
PLACES = {"below": (0, None), "between": (1, None), "above": (None, None), "joined": (None, "oil")}
FLIPS = [
    ("dry", "below", "above", "iris_na", (0.1, 0.6)),
    ("dry", "below", "joined", "iris_na", (0.1, 0.6)),
    ("dry", "below", "above", "condenser_strain_factor", (1.0, 10.0)),
    ("dry", "below", "joined", "condenser_strain_factor", (0.5, 10.0)),
    ("two-lenses", "between", "above", "iris_na", (0.4, 0.68)),
    ("two-lenses", "below", "above", "iris_na", (0.4, 0.69)),
    ("two-lenses", "below", "between", "condenser_strain_factor", (0.0, 2.0)),
    ("two-lenses", "between", "above", "condenser_strain_factor", (0.5, 2.0)),
]
TARGETS = (1000.0, 500.0)


def read(name):
    return tomllib.loads((HERE / f"{name}.toml").read_text())


def ratio(scenario, grid):
    return model.predict_scenario(scenario, HERE, grid=grid)["extinction_ratio"]


def part(scenario, kind):
    """The first part of a kind."""
    return next(p for p in scenario["part"] if kind in p)


def placed(scenario, place):
    """The scenario with its sheet somewhere else; "above" and "joined" are right above the condenser's last lens."""
    scenario = copy.deepcopy(scenario)
    parts = scenario["part"]
    index, contact = PLACES[place]
    polar = part(scenario, "polarizer")
    parts.remove(polar)
    if index is None:
        index = 1 + max(i for i, p in enumerate(parts) if "condenser" in p)
    if contact:
        polar["polarizer"]["contact"] = contact
    parts.insert(index, polar)
    return scenario


def varied(scenario, what, value):
    """The scenario with another iris, or with all strain of the condenser multiplied."""
    scenario = copy.deepcopy(scenario)
    if what == "iris_na":
        scenario["aperture"]["na"] = value
        return scenario
    amount = {"uniform": "path_difference_nm", "radial": "edge_nm", "clamp": "force_n"}
    for lens in (p for p in scenario["part"] if "condenser" in p):
        for profile in lens.get("strain", []):
            for kind, values in profile.items():
                values[amount[kind]] *= value
    return scenario


def settled(solve):
    """solve(grid, near) on ever finer grids, near the root before: (root, grid, last relative change)."""
    root = solve(GRIDS[0], None)
    for grid in GRIDS[1:]:
        before, root = root, solve(grid, root)
        change = abs(root / before - 1)
        if change < SETTLED:
            return root, {"grid": list(grid), "last_relative_change": change}
    raise ValueError(f"quadrature does not settle: {change:.1e}")


def root_of(function, bracket):
    """A solver for `settled`: function(x, grid) = 0 within the bracket, searched close by where a root is known."""
    def solve(grid, near):
        f = lambda x: function(x, grid)  # noqa: E731
        low, high = bracket
        if near is not None:
            tight = sorted((near * (1 - 1e-3), near * (1 + 1e-3)))
            if f(tight[0]) * f(tight[1]) < 0:
                low, high = tight
        return brentq(f, low, high, xtol=1e-13, rtol=1e-13)
    return solve


def flip(name, one, other, what, bracket):
    scenario = read(name)
    pair = [placed(scenario, place) for place in (one, other)]

    def advantage(x, grid):
        first, second = (ratio(varied(s, what, x), grid) for s in pair)
        return np.log(first / second)

    value, found = settled(root_of(advantage, bracket))
    return {"scenario": name, "places": [one, other], "varied": what, "value": value,
            "extinction_ratio": ratio(varied(pair[0], what, value), tuple(found["grid"]))} | found


def with_strain(scenario, profile):
    scenario = copy.deepcopy(scenario)
    part(scenario, "objective")["strain"] = [profile]
    return scenario


def simple_limits():
    """One number varies until the extinction ratio falls to the target."""
    scenario = read("objective")

    def radial(x):
        return with_strain(scenario, {"radial": {"edge_nm": x}})

    def clamp(x):
        return with_strain(scenario, {"clamp": {"contacts": 3, "force_n": x, "diameter_mm": 8, "azimuth_deg": 20}})

    def analyzer(x):
        turned = copy.deepcopy(scenario)
        part(turned, "analyzer")["analyzer"]["azimuth_deg"] = x
        return turned

    def iris(x):
        return varied(radial(60.0), "iris_na", x)

    for what, build, bracket in [
        ("radial edge_nm", radial, (0.0, 100.0)),
        ("clamp force_n", clamp, (0.0, 50.0)),
        ("analyzer azimuth_deg", analyzer, (90.0, 96.0)),
        ("analyzer azimuth_deg", analyzer, (84.0, 90.0)),
        ("iris_na at radial edge_nm 60", iris, (0.05, 0.5)),
    ]:
        for target in TARGETS:
            excess = lambda x, grid: np.log(ratio(build(x), grid) / target)  # noqa: E731
            value, found = settled(root_of(excess, bracket))
            yield {"scenario": "objective", "varied": what, "target": target, "value": value} | found


def around(path_difference, grid, count=6):
    """log(E) as a function of a uniform strain's azimuth in radians, from `count` azimuths.

    Strain enters the field as constant, cos 2a and sin 2a, so light holds nothing beyond cos 4a and sin 4a: five samples would
    make the trigonometric polynomials of both fields exact, and a sixth shows that nothing is left.
    """
    scenario = read("objective")
    light = scenario["light"]
    azimuths = 180.0 * np.arange(count) / count
    parallel, crossed = [], []
    for azimuth in azimuths:
        strained = with_strain(scenario, {"uniform": {"path_difference_nm": path_difference, "azimuth_deg": azimuth}})
        spectrum = model.predict_scenario(strained, HERE, grid=grid)["spectrum"]
        nm = np.array(spectrum["wavelength_nm"])
        luminous = model.lamp(light, nm, HERE, model.first_readings()) * model.observer(nm)[1]
        parallel.append(luminous @ np.array(spectrum["parallel"]))
        crossed.append(luminous @ np.array(spectrum["crossed"]))

    def polynomial(samples):
        harmonics = np.fft.fft(samples) / count
        assert abs(harmonics[3]) < 1e-10 * abs(harmonics[0])
        orders = np.array([-2, -1, 0, 1, 2])
        return lambda a: (harmonics[orders] * np.exp(2j * np.multiply.outer(a, orders))).sum(axis=-1).real

    top, bottom = polynomial(parallel), polynomial(crossed)
    return lambda a: np.log(top(a) / bottom(a))


def worst_azimuth(log_ratio):
    """Where the ratio is smallest, by the root of its slope beside the smallest of many samples."""
    a = np.pi * np.arange(720) / 720
    start = a[np.argmin(log_ratio(a))]
    step = 1e-3
    slope = lambda x: log_ratio(x + step) - log_ratio(x - step)  # noqa: E731
    # A central difference is off by its step squared; the second, of half the step, takes that error away.
    half = lambda x: log_ratio(x + step / 2) - log_ratio(x - step / 2)  # noqa: E731
    return brentq(lambda x: 8 * half(x) - slope(x), start - 0.02, start + 0.02, xtol=1e-14)


def missed(log_ratio, target):
    """Stretches of azimuth, radians, where the ratio stays below the target."""
    excess = lambda x: log_ratio(x) - np.log(target)  # noqa: E731
    a = np.pi * np.arange(721) / 720
    values = excess(a)
    edges = [brentq(excess, p, q, xtol=1e-14) for p, q, u, v in zip(a, a[1:], values, values[1:]) if u * v < 0]
    if not edges:
        return [(0.0, np.pi)] if values[0] < 0 else []
    if values[0] < 0:
        edges = [edges[-1] - np.pi, *edges[:-1]]
    return list(zip(edges[::2], edges[1::2]))


def uniform_limits():
    """Uniform strain of the objective: at its worst azimuth, and missing the target at a share of all azimuths."""
    bracket = (0.5, 40.0)
    for target in TARGETS:
        def worst(x, grid):
            log_ratio = around(x, grid)
            return log_ratio(worst_azimuth(log_ratio)) - np.log(target)
        value, found = settled(root_of(worst, bracket))
        azimuth = worst_azimuth(around(value, tuple(found["grid"])))
        yield {"scenario": "objective", "varied": "uniform path_difference_nm", "target": target, "azimuth": "worst",
               "azimuth_deg": np.degrees(azimuth) % 180, "value": value} | found
        for share in (0.05, 0.1, 0.5) if target == TARGETS[0] else ():
            def excess(x, grid):
                return sum(q - p for p, q in missed(around(x, grid), target)) / np.pi - share
            # Below the limit at the worst azimuth nothing is missed and there is no slope to follow.
            value, found = settled(root_of(excess, (value, 3 * value)))
            stretches = missed(around(value, tuple(found["grid"])), target)
            yield {"scenario": "objective", "varied": "uniform path_difference_nm", "target": target, "azimuth": "random",
                   "missed_share": share, "missed_deg": np.degrees(stretches).tolist(), "value": value} | found


def main():
    answers = {"flips": [flip(*case) for case in FLIPS], "limits": [*simple_limits(), *uniform_limits()]}
    for answer in answers["flips"] + answers["limits"]:
        print(json.dumps(answer))
    (HERE / "decisions.json").write_text(json.dumps(answers, indent=1) + "\n")


if __name__ == "__main__":
    main()
