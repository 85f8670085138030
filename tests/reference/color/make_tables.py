"""Writes the CIE tables of src/spectrum/data/ from colour-science 0.4.7.

Run from the repository's root, after `pip install -r tests/reference/requirements.txt`:

    python tests/reference/color/make_tables.py
"""

import warnings
from pathlib import Path

warnings.simplefilter("ignore")

import colour  # noqa: E402  (it warns about missing plotting on import)

DATA = Path("src/spectrum/data")
RETRIEVED = "retrieved 2026-11-25 by tests/reference/color/make_tables.py"
LICENCE = """\
# Licence of colour-science: BSD-3-Clause, Copyright 2013 Colour Developers (licence-colour-science.txt). The numbers are the CIE's.
"""


def write(name, header, columns, rows):
    text = header + LICENCE + ",".join(columns) + "\n"
    for row in rows:
        # repr of a float is the shortest text that reads back as the same number
        text += ",".join([f"{row[0]:g}"] + [repr(float(v)) for v in row[1:]]) + "\n"
    (DATA / name).write_text(text)


def lamp(name, key, table):
    sd = colour.SDS_ILLUMINANTS[key]
    header = (
        f"# Relative spectral power of {table}.\n"
        f"# Source: colour-science 0.4.7, SDS_ILLUMINANTS[\"{key}\"], {RETRIEVED}.\n"
    )
    write(name, header, ["wavelength_nm", "power"], zip(sd.wavelengths, sd.values))


DATA.mkdir(parents=True, exist_ok=True)
lamp("cie-a.csv", "A", "CIE standard illuminant A, its own table (CIE 15:2004, table T.1, its number from memory), 5 nm")
lamp("cie-d65.csv", "D65", "CIE standard illuminant D65 (CIE 15:2004, table T.1, its number from memory), 5 nm")
for i in range(1, 6):
    table = f"CIE illuminant LED-B{i} (CIE 015:2018, 4th edition, table 12, its number from memory), 5 nm"
    lamp(f"led-b{i}.csv", f"LED-B{i}", table)

cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
write(
    "cie-1931-2deg.csv",
    "# Colour matching functions of the CIE 1931 standard colorimetric observer, 2 degrees, 1 nm.\n"
    "# Source: colour-science 0.4.7, MSDS_CMFS[\"CIE 1931 2 Degree Standard Observer\"], which names the CVRL's\n"
    f"# \"Older CIE Standards\"; {RETRIEVED}.\n",
    ["wavelength_nm", "x_bar", "y_bar", "z_bar"],
    ((nm, *xyz) for nm, xyz in zip(cmfs.wavelengths, cmfs.values)),
)
