"""Writes adaptation.json beside it: colours seen by an eye that has adapted to a lamp in part, for tests/reference/color.rs.

Run from the repository's root, as make_color.py, whose sums it takes. The rule, a response times D R_D65/R_white + 1 - D, is first compared with
colour-science's chromatic_adaptation_Zhai2018, which has it with CAT16's matrix (two steps, the second of them undone by its own white); then it is
written down with Bradford's.
"""

import colour
import numpy as np
from make_color import D65_WHITE, floats, plate, tristimulus, write

DEGREES = [0.0, 0.25, 0.6, 0.8, 1.0]
PATH_DIFFERENCES = [158, 281, 430, 505, 530, 550, 565, 664, 910, 1101]


def adapted(xyz, white, degree, transform):
    matrix = colour.CHROMATIC_ADAPTATION_TRANSFORMS[transform]
    gain = degree * (matrix @ D65_WHITE) / (matrix @ white) + 1 - degree
    return np.linalg.solve(matrix, gain * (matrix @ xyz))


def records():
    for lamp in ("cie-d65", "cie-a", "led-b3"):
        white = tristimulus(lamp, 1, np.ones_like)
        white = white / white[1]
        for degree in DEGREES:
            for path_difference in PATH_DIFFERENCES:
                xyz = tristimulus(lamp, 1, plate(path_difference))
                known = colour.adaptation.chromatic_adaptation_Zhai2018(
                    100 * xyz, 100 * white, 100 * D65_WHITE, degree, 1, 100 * D65_WHITE, "CAT16")
                assert np.allclose(adapted(xyz, white, degree, "CAT16"), known / 100, atol=1e-12), (lamp, degree)
                yield {"lamp": lamp, "path_difference_nm": path_difference, "degree": degree,
                       "adapted": floats(adapted(xyz, white, degree, "Bradford"))}


if __name__ == "__main__":
    made = "sin^2(pi G/l) under a lamp, to an eye adapted to it by a degree, Bradford's responses; made by make_adaptation.py on"
    write("adaptation.json", made, records())
