"""Rays through invented lenses by a general-purpose lens design library, and what their surfaces pass by a 4x4 solver.

rayoptics (sequential trace, intersections to 1e-14) gives the heights, angles and focal planes; pyElli (4x4 matrices) the amplitudes of p and s at
each surface of some rays, bare and with a layer. SciPy integrates the stress of uneven cooling along some rays: sigma_r ~ 1 - r^2,
sigma_theta ~ 1 - 3 r^2, over what a ray along the axis at the rim of the glass reads. Versions stand in ../requirements.txt. Writes lenses.json.

Surfaces are rows of radius (0 is flat), thickness, index behind, conic, and coefficients of h^4, h^6, h^8, h^10, in mm; light comes from infinity
in air. Angles are in degrees. pyElli's fields go with exp(i(kz - wt)) as the program's do, so phases are taken as they come.
"""
import contextlib
import io
import json
import math
import warnings
from pathlib import Path

import numpy as np
from scipy.integrate import quad

warnings.filterwarnings("ignore")
with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
    import elli
    import rayoptics.environment as ro
    from rayoptics.elem import profiles
    from rayoptics.raytr import raytrace

NM = 546.1
LAYER_INDEX, LAYER_NM = 1.38, 550 / (4 * 1.38)
NONE = (0, 0, 0, 0)

LENSES = {
    "plano-convex, curve first": [(10, 4, 1.5, 0, NONE), (0, 0, 1, 0, NONE)],
    "plano-convex, flat first": [(0, 4, 1.5, 0, NONE), (-10, 0, 1, 0, NONE)],
    "biconvex": [(24, 6, 1.62, 0, NONE), (-31, 0, 1, 0, NONE)],
    "meniscus": [(12, 5, 1.7, 0, NONE), (40, 0, 1, 0, NONE)],
    "two moulded lenses": [(20, 11, 1.523, -1, NONE), (0, 1, 1, 0, NONE), (10, 9, 1.523, 0, NONE), (0, 0, 1, 0, NONE)],
    "two moulded lenses, oil": [(20, 11, 1.523, -1, NONE), (0, 1, 1, 0, NONE), (10, 9, 1.523, 0, NONE), (0, 0, 1.515, 0, NONE)],
    "aspheric": [(9, 7, 1.49, -0.6, (-2e-5, 3e-8, -1e-9, 2e-12)), (-60, 0, 1, -3, (1e-5, 0, 0, 0))],
    "cemented doublet": [(60, 6, 1.5168, 0, NONE), (-45, 2.5, 1.62, 0, NONE), (-130, 0, 1, 0, NONE)],
    "converging and diverging": [(25, 5, 1.6, 0, NONE), (-80, 2, 1, 0, NONE), (-50, 2, 1.7, 0, NONE), (90, 0, 1, 0, NONE)],
}
HEIGHTS = {
    "plano-convex, curve first": 6, "plano-convex, flat first": 5.5, "biconvex": 9, "meniscus": 7, "two moulded lenses": 12,
    "two moulded lenses, oil": 12, "aspheric": 6, "cemented doublet": 14, "converging and diverging": 10,
}
# Glass between two surfaces, and the half diameter of both.
STRESSED = {"biconvex": (0, 10.0), "two moulded lenses": (0, 13.0), "meniscus": (0, 8.0)}
PASSED = ["two moulded lenses", "cemented doublet"]


def model(rows):
    opm = ro.OpticalModel()
    sm, osp = opm["seq_model"], opm["optical_spec"]
    osp["pupil"] = ro.PupilSpec(osp, key=["object", "epd"], value=1.0)
    osp["fov"] = ro.FieldSpec(osp, key=["object", "angle"], flds=[0.0])
    osp["wvls"] = ro.WvlSpec([(NM, 1.0)], ref_wl=0)
    opm.radius_mode = True
    sm.gaps[0].thi = 1e10
    for radius, thickness, index, conic, terms in rows:
        sm.add_surface([radius, thickness, index])
        curvature = 1 / radius if radius else 0.0
        sm.ifcs[sm.cur_surface].profile = profiles.EvenPolynomial(c=curvature, cc=conic, coefs=[0.0, *terms]) if any(terms) else profiles.Conic(c=curvature, cc=conic)
    sm.do_apertures = False
    opm.update_model()
    return opm


def trace(opm, rows, height):
    """Heights, slopes, angles of incidence and refraction at each surface, and the sine at the end."""
    opm["seq_model"].gaps[0].thi = 0.0
    path = opm["seq_model"].path(NM)
    ray, _, _ = raytrace.trace_raw(path, np.array([0.0, height, 0.0]), np.array([0.0, 0.0, 1.0]), NM, eps=1e-14)
    surfaces, before = [], 0.0
    for (point, direction, _, normal), (_, _, n2, _, _) in zip(ray[1:1 + len(rows)], rows):
        slope = math.degrees(math.atan2(direction[1], direction[2]))
        tilt = math.degrees(math.atan2(normal[1], normal[2]))
        tilt = (tilt + 90) % 180 - 90
        surfaces.append({"height_mm": point[1], "sag_mm": point[2], "slope_deg": slope, "incidence_deg": before - tilt, "refraction_deg": slope - tilt})
        before = slope
    return {"entrance_mm": height, "surfaces": surfaces, "na": -rows[-1][2] * math.sin(math.radians(before))}


def amplitudes(n1, n2, incidence_deg, nm, coated):
    """p and s of one surface, power-normalised, by 4x4 matrices."""
    media = [elli.IsotropicMaterial(elli.ConstantRefractiveIndex(n)) for n in (n1, n2)]
    layers = [elli.Layer(elli.IsotropicMaterial(elli.ConstantRefractiveIndex(LAYER_INDEX)), LAYER_NM)] if coated else []
    result = elli.Structure(media[0], layers, media[1]).evaluate(np.array([nm]), abs(incidence_deg), solver=elli.Solver4x4)
    flux = math.sqrt(n2 * math.cos(math.asin(n1 / n2 * math.sin(math.radians(abs(incidence_deg))))) / (n1 * math.cos(math.radians(abs(incidence_deg)))))
    p, s = complex(result.t_pp[0]) * flux, complex(result.t_ss[0]) * flux
    return {"p": [p.real, p.imag], "s": [s.real, s.imag]}


def sag(row, h):
    radius, _, _, conic, terms = row
    c = 1 / radius if radius else 0.0
    return c * h * h / (1 + math.sqrt(1 - (1 + conic) * c * c * h * h)) + sum(a * h ** (4 + 2 * k) for k, a in enumerate(terms))


def stress(rows, front, rim, ray):
    """Path difference of a ray in the glass behind a surface, over that along the axis at the rim."""
    a, b = ray["surfaces"][front], ray["surfaces"][front + 1]
    start = np.array([a["height_mm"], a["sag_mm"]])
    end = np.array([b["height_mm"], rows[front][1] + b["sag_mm"]])
    length = float(np.hypot(*(end - start)))
    cos2 = ((end[1] - start[1]) / length) ** 2

    def difference(along):
        r2 = ((start[0] + (end[0] - start[0]) * along / length) / rim) ** 2
        return cos2 * (1 - r2) - (1 - 3 * r2)

    edge = rows[front][1] + sag(rows[front + 1], rim) - sag(rows[front], rim)
    return quad(difference, 0, length, epsabs=1e-13, epsrel=1e-13)[0] / quad(lambda _: (1 - 1) - (1 - 3), 0, edge)[0]


def main():
    lenses = {}
    for name, rows in LENSES.items():
        opm = model(rows)
        first_order = opm["analysis_results"]["parax_data"].fod
        rays = [trace(opm, rows, HEIGHTS[name] * k / 12) for k in range(1, 13)]
        lens = {
            "surfaces": [{"radius_mm": r, "thickness_mm": t, "index": n, "conic": k, "aspheric": a} for r, t, n, k, a in rows],
            "power_per_mm": first_order.power, "front_focal_plane_mm": first_order.ffl, "back_focal_plane_mm": first_order.bfl, "rays": rays,
        }
        if name in PASSED:
            lens["passed"] = []
            for ray in rays[3::4]:
                before = 1.0
                for number, (at, row) in enumerate(zip(ray["surfaces"], rows)):
                    for nm in (450.0, 550.0, 650.0):
                        for coated in ((False, True) if 1.0 in (before, row[2]) else (False,)):
                            lens["passed"].append({
                                "entrance_mm": ray["entrance_mm"], "surface": number, "wavelength_nm": nm, "coated": coated,
                                **amplitudes(before, row[2], at["incidence_deg"], nm, coated),
                            })
                    before = row[2]
        if name in STRESSED:
            front, rim = STRESSED[name]
            lens["stress"] = {"front": front, "rim_mm": rim, "of_rays": [stress(rows, front, rim, ray) for ray in rays]}
        lenses[name] = lens
    (Path(__file__).parent / "lenses.json").write_text(json.dumps(lenses, indent=1) + "\n")


main()
