"""Compares the JSON files of two folders: the same keys, the same words, numbers within 1e-9 of themselves.

    python compare.py FOLDER OTHER

Processors differ in the last bits of vectorised sines, which is why numbers are not compared as text. Numbers below 1e-25,
versions, and the size of the last refinement are passed over. Strains and biases that were searched for agree to 1e-5.
"""
import json
import math
import sys
from pathlib import Path

PASSED_OVER = {"versions", "last_relative_change", "largest_relative_change"}


def is_near_zero(where):
    """Entries of matrices and Stokes vectors, and azimuths, where rounding stands for zero."""
    return where.startswith((".matrices", ".traces", ".lenses")) or where.endswith("azimuth_deg")


def is_searched(where):
    """Strains (nm) and biases that were found by searching with numeric slopes: the last digits are where the search stopped."""
    return where.startswith((".even-and-radial.", ".two-lenses.", ".uneven.", ".phase.strain", ".phase.bias"))


def differences(here, there, where):
    if isinstance(here, dict) and isinstance(there, dict):
        if here.keys() != there.keys():
            yield f"{where}: keys differ: {sorted(here.keys() ^ there.keys())}"
        for key in here.keys() & there.keys() - PASSED_OVER:
            yield from differences(here[key], there[key], f"{where}.{key}")
    elif isinstance(here, list) and isinstance(there, list):
        if len(here) != len(there):
            yield f"{where}: {len(here)} and {len(there)} entries"
        for index, (a, b) in enumerate(zip(here, there)):
            yield from differences(a, b, f"{where}[{index}]")
    elif isinstance(here, float) or isinstance(there, float):
        absolute = 1e-12 if is_near_zero(where) else 1e-5 if is_searched(where) else 1e-25
        if not math.isclose(here, there, rel_tol=1e-9, abs_tol=absolute):
            yield f"{where}: {here!r} and {there!r}"
    elif here != there:
        yield f"{where}: {here!r} and {there!r}"


def main():
    folder, other = map(Path, sys.argv[1:])
    names = sorted(path.relative_to(folder) for path in folder.rglob("*.json"))
    found = []
    for name in names:
        here, there = (json.loads((root / name).read_text()) for root in (folder, other))
        found += differences(here, there, "." + name.stem)
    print(f"{len(names)} reference files compared, {len(found)} differences")
    sys.exit("\n".join(found[:20]) if found else 0)


if __name__ == "__main__":
    main()
