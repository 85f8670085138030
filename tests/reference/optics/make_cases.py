"""Run model.py over cases/*.toml and write cases/NAME.json at full precision.

    python make_cases.py [NAME ...]

Each JSON document holds the result under the readings taken first, and under "alternatives" the
result under each other reading that changes that case (see readings.md), one changed at a time.
"""
import json
import os
import platform
import sys
import time
import tomllib
import warnings
from pathlib import Path

for variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(variable, "1")
warnings.filterwarnings("ignore", message=".*related API features are not available.*")

import colour   # noqa: E402
import numpy    # noqa: E402
import scipy    # noqa: E402

import model    # noqa: E402

CASES = Path(__file__).parent / "cases"
SENSITIVE = 1e-12   # a smaller relative change is not worth keeping


def relevant(scenario):
    """Names of the readings that could matter to a scenario."""
    names = set()
    kinds = [k for part in scenario["part"] for k in part if k in model.KINDS]
    strains = [k for part in scenario["part"] for profile in part.get("strain", []) for k in profile]
    if "clamp" in strains:
        names.add("clamp_slow")
    if "map" in strains:
        names.add("map_interpolation")
    if scenario.get("stray", {}).get("fraction"):
        names.add("stray")
    if "specimen" in kinds:
        names.add("specimen_in_crossed")
    if "retarder" in kinds:
        names |= {"circular_rule", "circular_parallel"}
    if "condenser" not in kinds or "objective" not in kinds:
        names.add("missing_lens")
    source = scenario["light"]["source"]
    if source == "cie-a":
        names.add("cie_a")
    if isinstance(source, dict) and "line_nm" in source:
        names.add("line_shape")
    for part in scenario["part"]:
        for kind in model.KINDS:
            body = part.get(kind, {})
            sheet = body.get("sheet")
            if sheet == "ideal":
                names.add("ideal_sheet_angle")
            if isinstance(sheet, str) and sheet.startswith("iodine"):
                names |= {"sheet_beyond_table", "sheet_interpolation"}
            if kind == "specimen" and "material" in body:
                names |= {"uniaxial_azimuth", "uniaxial_mean_index"}
            if body.get("material") == "quartz":
                names.add("quartz_data")
            if "B270" in (body.get("glass"), body.get("mount"), body.get("cover")):
                names.add("b270_index")
            if body.get("surfaces") == 0 and part.get("strain"):
                names.add("no_surfaces_strain")
    return sorted(names)


def largest_change(first, other):
    worst = 0.0
    for key in ("parallel", "crossed", "crossed_with_plate"):
        a, b = first["spectrum"][key], other["spectrum"][key]
        if a is not None:
            worst = max(worst, max(abs(q - p) / max(abs(p), 1e-300) for p, q in zip(a, b)))
    for key in ("without_plate", "with_plate"):
        a, b = first["background"][key], other["background"][key]
        if a is not None:
            worst = max(worst, max(abs(q - p) / max(abs(p), 1e-300) for p, q in zip(a["xyz"], b["xyz"])))
    return worst


def run(path):
    scenario = tomllib.loads(path.read_text())
    result = model.predict(path)
    result["alternatives"], result["indifferent_to"] = {}, []
    for name in relevant(scenario):
        for value in model.READINGS[name][1:]:
            label = f"{name}={value}"
            try:
                other = model.predict(path, {name: value}, grid=tuple(result["grid"]))
            except ValueError as problem:
                result["alternatives"][label] = {"error": str(problem)}
                continue
            change = largest_change(result, other)
            if change > SENSITIVE:
                kept = {k: other[k] for k in ("extinction_ratio", "parallel_azimuth_deg", "spectrum", "background")}
                del kept["spectrum"]["wavelength_nm"]
                result["alternatives"][label] = {"largest_relative_change": change} | kept
            else:
                result["indifferent_to"].append(label)
    result["readings"] = model.first_readings()
    result["versions"] = {"python": platform.python_version(), "numpy": numpy.__version__,
                          "scipy": scipy.__version__, "colour-science": colour.__version__}
    return result


def one_line_lists(text):
    """Numbers of one list on one line: shorter files, readable differences."""
    import re
    return re.sub(r"\[\s+([^\[\]{}]*?)\s+\]", lambda m: "[" + re.sub(r",\s+", ", ", m.group(1)) + "]", text)


def main():
    wanted = set(sys.argv[1:])
    began = time.process_time()
    for path in sorted(CASES.glob("*.toml")):
        if wanted and path.stem not in wanted:
            continue
        start = time.process_time()
        result = run(path)
        path.with_suffix(".json").write_text(one_line_lists(json.dumps(result, indent=1)) + "\n")
        ratio = result["extinction_ratio"]
        print(f"{path.stem:32s} E {ratio:14.6f}  grid {result['grid'][0]:3d} x {result['grid'][1]:3d}"
              f"  change {result['last_relative_change']:.1e}  {time.process_time() - start:5.1f} s")
        for label, other in result["alternatives"].items():
            if "error" in other:
                print(f"    {label}: {other['error']}")
            else:
                print(f"    {label}: E {other['extinction_ratio']:.6f}, largest change {other['largest_relative_change']:.1e}")
    print(f"{time.process_time() - began:.1f} s of processor time")


if __name__ == "__main__":
    main()
