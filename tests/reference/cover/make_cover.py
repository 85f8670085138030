"""A sheet polarizer and its cover under oblique rays by a 4x4 (Berreman) solver, pyElli; its version stands in ../requirements.txt.

The dyed layer is an absorbing uniaxial crystal of index 1.5, 20 um thick, stretched along the absorption axis; the cover is a uniaxial plate of index
1.48, 80 um thick, its axis along the normal, (n_o - n_e) d = cover_nm. The pair lies in a medium of index 1.5, so that thick layers make no
fringes; the sheet's two surfaces to air come from Fresnel's formulas, as for a film without them. Light is unpolarized, lenses are ideal, the
analyzer is the same sheet in collimated light, of k1 0.8 and k2 8e-6. Writes cover.json.
"""
import json
import math
import warnings
from pathlib import Path

import numpy as np

warnings.filterwarnings("ignore")
import elli  # noqa: E402

K1, K2, FILM, COVER, FILM_NM, COVER_NM = 0.8, 8e-6, 1.5, 1.48, 20e3, 80e3
RINGS, SPOKES = 8, 8


def index(value):
    return elli.ConstantRefractiveIndex(value)


AROUND = elli.IsotropicMaterial(index(FILM))
UPRIGHT = elli.rotation_euler(0, 0, 0)


def matrix(layers, s, nm):
    """[[pp, ps], [sp, ss]] of layers in the film's medium for a ray of numerical aperture s; out before in."""
    result = elli.Structure(AROUND, layers, AROUND).evaluate(np.array([nm]), math.degrees(math.asin(s / FILM)), solver=elli.Solver4x4)
    return np.array(result.jones_matrix_t[0])


def cover_layer(cover_nm):
    # elli's uniaxial crystals have their axis along z.
    return elli.Layer(elli.UniaxialMaterial(index(COVER), index(COVER - cover_nm / COVER_NM)), COVER_NM)


def dyed_layer(azimuth, nm):
    bare = (4 * FILM / (1 + FILM) ** 2) ** 2
    passed, absorbed = (-math.log(k / bare) * nm / (4 * math.pi * FILM_NM) for k in (K1, K2))
    crystal = elli.UniaxialMaterial(index(FILM + 1j * passed), index(FILM + 1j * absorbed))
    # From z into the film's plane, and there to the azimuth.
    tilt = elli.rotation_v_theta((0, 1, 0), 90)
    turn = elli.rotation_v_theta((0, 0, 1), math.degrees(azimuth))
    crystal.set_rotation(turn @ tilt)
    return elli.Layer(crystal, FILM_NM)


def surface(s):
    """p and s of one surface between air and film."""
    a, b = math.sqrt(1 - s * s), math.sqrt(1 - (s / FILM) ** 2)
    flux = 2 * math.sqrt(a * FILM * b)
    return np.diag([flux / (FILM * a + b), flux / (a + FILM * b)])


def leak(na, cover_nm, nm):
    nodes, weights = np.polynomial.legendre.leggauss(RINGS)
    crossed = parallel = 0.0
    for node, weight in zip(nodes, weights):
        s = na * math.sqrt((1 + node) / 2)
        for spoke in range(SPOKES):
            phi = 2 * math.pi * (spoke + 0.5) / SPOKES
            layers = [dyed_layer(math.pi / 2 - phi, nm)] + ([cover_layer(cover_nm)] if cover_nm else [])
            sheet = surface(s) @ matrix(layers, s, nm) @ surface(s)
            turn = np.array([[math.cos(phi), -math.sin(phi)], [math.sin(phi), math.cos(phi)]])
            pupil = turn @ sheet @ turn.T
            x, y = (abs(pupil[row]) ** 2 for row in (0, 1))
            crossed += weight / 2 / SPOKES * (K1 * y.sum() + K2 * x.sum()) / 2
            parallel += weight / 2 / SPOKES * (K1 * x.sum() + K2 * y.sum()) / 2
    return crossed / parallel


def phase(s, cover_nm, nm):
    t = matrix([cover_layer(cover_nm)], s, nm)
    return float(np.angle(t[0, 0] / t[1, 1]))


def main():
    leaks = [
        {"na": na, "cover_nm": cover, "wavelength_nm": nm, "leak": leak(na, cover, nm)}
        for nm, nas, covers in ((550.0, (0.25, 0.4, 0.65, 0.9), (0, 40, 50, 60)), (550.0, (0.65,), (-50,)), (450.0, (0.65,), (0, 50)), (650.0, (0.65,), (0, 50)))
        for na in nas
        for cover in covers
    ]
    phases = [
        {"s": s, "cover_nm": cover, "wavelength_nm": nm, "phase_rad": phase(s, cover, nm)}
        for s in (0.1, 0.3, 0.5, 0.7, 0.9)
        for cover, nm in ((50, 550.0), (-60, 450.0), (300, 650.0))
    ]
    (Path(__file__).parent / "cover.json").write_text(json.dumps({"leaks": leaks, "phases": phases}, indent=1) + "\n")


main()
