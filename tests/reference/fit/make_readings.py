"""Simulates the readings of each bench by ../optics/model.py from its truth, with noise of the stated error.  python make_readings.py"""
import csv
import math
import tomllib
import warnings

warnings.filterwarnings("ignore", message=".*related API features are not available.*")

import numpy as np                                                  # noqa: E402
from stand import HERE, PHYSICAL, Setting, read, slow_ratio, vector, written   # noqa: E402

SEED = 20250607
# (na, analyzer_deg, turn:objective, out, error_percent, note); None is an empty cell
SETTINGS = {
    "a": [(0.65, None, None, None, 5, "iris as the objective"), (0.40, None, None, None, 5, ""), (0.20, None, None, None, 5, "")],
    "b": [(0.60, None, None, None, 5, ""), (0.40, None, None, None, 5, ""), (0.20, None, None, None, 5, ""),
          (0.10, None, None, None, 8, "little light"), (0.20, 87, None, None, 3, "analyzer 3 degrees back"),
          (0.20, 93, None, None, 3, "analyzer 3 degrees on"), (0.20, None, 45, None, 5, ""), (0.60, None, 45, None, 5, ""),
          (0.20, None, 90, None, None, "no error stated: 5 percent"), (0.05, None, None, "condenser", 10, "lamp alone")],
    "c": [(0.20, None, None, None, 5, ""), (0.20, None, 45, None, 5, ""), (0.20, None, 90, None, 5, ""),
          (0.20, None, 135, None, 5, ""), (0.10, None, None, None, 10, "")],
}


def four_digits(x):
    return f"{float(f'{x:.4g}'):g}"


def truth(name, scenario):
    told = tomllib.loads((HERE / f"bench-{name}.truth.toml").read_text())
    values = written(scenario)
    for kind in ("condenser", "objective"):
        profile = {k: told.pop(f"{kind}.uniform.{k}", None) for k in ("path_difference_nm", "azimuth_deg")}
        if profile["path_difference_nm"] is not None:
            values[f"{kind}.uniform.cos_nm"], values[f"{kind}.uniform.sin_nm"] = vector(profile)
    values.update(told)
    return [values[key] for key in PHYSICAL]


def main():
    for name, rows in SETTINGS.items():
        scenario = read(HERE / f"bench-{name}.toml")
        values = truth(name, scenario)
        noise = np.random.default_rng([SEED, ord(name)]).standard_normal(len(rows))
        table = []
        for (na, analyzer, turn, out, error, note), z in zip(rows, noise):
            setting = Setting(na, 90 if analyzer is None else analyzer, turn or 0, out or "")
            exact = slow_ratio(scenario, values, setting)
            ratio = exact * math.exp(z * (error or 5) / 100)
            print(name, setting, f"exact {exact:.1f} read {ratio:.1f}")
            entry = {"na": na, "error_percent": error, "analyzer_deg": analyzer, "turn:objective": turn, "out": out, "note": note}
            if name == "b":        # a meter: the parallel field reads 4000 with the same exposure
                entry |= {"reading": four_digits(4000 / ratio), "parallel": 4000}
            else:
                entry["ratio"] = four_digits(ratio)
            table.append(entry)
        columns = [c for c in ("reading", "parallel", "ratio", "error_percent", "na", "analyzer_deg", "turn:objective", "out", "note")
                   if any(row.get(c) not in (None, "") for row in table)]
        with open(HERE / f"bench-{name}.csv", "w", newline="") as handle:
            writer = csv.DictWriter(handle, columns, extrasaction="ignore", lineterminator="\n")
            writer.writeheader()
            writer.writerows({c: "" if row.get(c) is None else row[c] for c in columns} for row in table)


if __name__ == "__main__":
    main()
