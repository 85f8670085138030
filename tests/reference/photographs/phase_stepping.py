"""Closed forms of phase stepping and of biased crossed polars, each from Jones calculus, and a least-squares strain.

Conventions (optics.md): azimuths counter-clockwise as the observer sees them, light towards the observer, phase
exp(i(kz - wt)): the slow axis gathers more phase, so a retarder is R(a) diag(exp(+iG/2), exp(-iG/2)) R(-a), a slow.
Intensities are relative to the light that ideal parallel polars pass (lower polar's output = 1).
"""
import json
import math
import os

import numpy as np
from scipy.optimize import least_squares, minimize_scalar


# ------------------------------------------------------------------ Jones

def ret(G, a):
    c, s = math.cos(2 * a), math.sin(2 * a)
    return math.cos(G / 2) * np.eye(2) + 1j * math.sin(G / 2) * np.array([[c, s], [s, -c]])


def rotator(r):
    c, s = math.cos(r), math.sin(r)
    return np.array([[c, -s], [s, c]], complex)


def polar(azimuth, k1=1.0, k2=0.0):
    """Amplitudes sqrt(k1) along the azimuth, sqrt(k2) across."""
    c, s = math.cos(azimuth), math.sin(azimuth)
    p = np.array([[c * c, c * s], [c * s, s * s]])
    return math.sqrt(k1) * p + math.sqrt(k2) * (np.eye(2) - p)


def light(*elements):
    """Unpolarized light of unit power through the elements, the first one met first: 1/2 ||J||_F^2."""
    J = np.eye(2)
    for e in elements:
        J = e @ J
    return 0.5 * float(np.sum(np.abs(J) ** 2))


# ------------------------------------------------------------------ (a) both polars turned together

STEPS = [math.radians(x) for x in (0.0, 22.5, 45.0, 67.5)]


def crossed_turned(G, a, psi, k1=1.0, k2=0.0, between=None):
    """Crossed polars turned by psi, relative to (k1 - k2)^2 / 2, so that the signal's factor is 1 with leaky polars too."""
    elements = [polar(psi, k1, k2)] + (between or [ret(G, a)]) + [polar(psi + math.pi / 2, k1, k2)]
    return light(*elements) / ((k1 - k2) ** 2 / 2)


def four_step(I):
    """I at psi = 0, 22.5, 45, 67.5 degrees -> G in [0, pi], slow azimuth modulo 90 degrees in [0, pi/2), L.

    I = L + S sin^2(2(a - psi)) = (L + S/2) - S/2 cos(4a - 4psi), S = sin^2(G/2)."""
    B = 0.5 * math.hypot(I[2] - I[0], I[3] - I[1])
    a = math.atan2(I[3] - I[1], I[2] - I[0]) / 4 % (math.pi / 2)
    G = 2 * math.asin(math.sqrt(min(1.0, 2 * B)))
    return G, a, sum(I) / 4 - B


def three_step(I):
    """I at psi = 0, 22.5, 45 degrees: I0 + I2 = 2(L + S/2) makes the fourth redundant."""
    A = (I[0] + I[2]) / 2
    B = math.hypot(I[2] / 2 - I[0] / 2, A - I[1])
    a = math.atan2(A - I[1], I[2] / 2 - I[0] / 2) / 4 % (math.pi / 2)
    return 2 * math.asin(math.sqrt(min(1.0, 2 * B))), a, A - B


def n_step(psi, I, sigma=None):
    """Least squares for any three or more psi: I = A - C cos 4psi - D sin 4psi. Returns G, a, L and the covariance of (A, C, D)."""
    psi, I = np.asarray(psi, float), np.asarray(I, float)
    w = np.ones_like(I) if sigma is None else 1 / np.asarray(sigma, float)
    M = np.stack([np.ones_like(psi), -np.cos(4 * psi), -np.sin(4 * psi)], 1) * w[:, None]
    (A, C, D), *_ = np.linalg.lstsq(M, I * w, rcond=None)
    B = math.hypot(C, D)
    return 2 * math.asin(math.sqrt(min(1.0, 2 * B))), math.atan2(D, C) / 4 % (math.pi / 2), A - B, np.linalg.inv(M.T @ M)


# ------------------------------------------------------------------ strain (u, v) by least squares, any settings

def setting_light(u, v, L, psi=0.0, d=0.0, r=0.0, known=(0.0, 0.0)):
    """Lower polar at psi, sample (u, v), known retarder (G, slow azimuth), rotation r by geometry, analyzer at psi + 90 deg + d."""
    G, a = math.hypot(u, v), 0.5 * math.atan2(v, u)
    J = rotator(r) @ ret(*known) @ ret(G, a)
    x = J @ np.array([math.cos(psi), math.sin(psi)])
    n = np.array([-math.sin(psi + d), math.cos(psi + d)])
    return L + abs(n @ x) ** 2


def second_order(u, v, L, d=0.0, r=0.0):
    """The page's form, analyzer off by d."""
    return L + math.sin(d - r) ** 2 + math.cos(2 * d) * v * v / 4 - math.sin(2 * d) * u * v / 4


def strain(settings, I, sigma=None):
    """(u, v, L) by least squares over the exact form; every mode found: list of (chi2, u, v, L), best first."""
    I = np.asarray(I, float)
    s = np.full(len(I), 1e-6) if sigma is None else np.asarray(sigma, float)
    res = lambda p: (np.array([setting_light(p[0], p[1], p[2], **k) for k in settings]) - I) / s
    found = []
    for g in (0.05, 0.4):
        for a2 in range(8):
            p = least_squares(res, [g * math.cos(a2 * math.pi / 4 + 0.2), g * math.sin(a2 * math.pi / 4 + 0.2), 0.0],
                              x_scale=[0.1, 0.1, 0.01], xtol=1e-15, ftol=1e-15, gtol=1e-15)
            if not any(abs(p.x[0] - q[1]) + abs(p.x[1] - q[2]) < 1e-4 for q in found):
                found.append((2 * p.cost, *map(float, p.x)))
    return sorted(found)


def sds(settings, u, v, L, relative):
    """One standard deviation of u, v, L when each light has this relative error (linear)."""
    h = 1e-6
    I = np.array([setting_light(u, v, L, **k) for k in settings])
    J = np.stack([(np.array([setting_light(*(np.array([u, v, L]) + h * e), **k) for k in settings])
                   - np.array([setting_light(*(np.array([u, v, L]) - h * e), **k) for k in settings])) / (2 * h)
                  for e in np.eye(3)], 1) / (relative * I)[:, None]
    return [float(x) for x in np.sqrt(np.diag(np.linalg.inv(J.T @ J)))]


# ------------------------------------------------------------------ (b) six steps with circular light

# name: azimuth of the output quarter-wave plate's slow axis, azimuth of the analyzer (degrees).
# This pairing and numbering is "from memory" of Patterson and Wang (1991); what each gives is derived here.
SIX = [("I1", 0, 45), ("I2", 0, -45), ("I3", 0, 0), ("I4", 45, 45), ("I5", 90, 90), ("I6", 135, 135)]


def six_input(handed):
    """Polar at 90 degrees and a quarter-wave plate, slow at +45 (handed = +1) or -45 degrees (handed = -1)."""
    return ret(math.pi / 2, handed * math.pi / 4) @ np.array([0.0, 1.0])


def six_intensities(G, a, handed=1, Im_extra=0.0, I0=1.0):
    """Jones: circular light, specimen, quarter-wave plate, analyzer."""
    x = ret(G, a) @ six_input(handed)
    out = []
    for _, q, b in SIX:
        b = math.radians(b)
        n = np.array([math.cos(b), math.sin(b)])
        out.append(Im_extra + I0 * abs(n @ (ret(math.pi / 2, math.radians(q)) @ x)) ** 2)
    return out


def six_closed(G, a, handed=1, Im_extra=0.0, I0=1.0):
    """Derived. handed h makes (1, -ih)/sqrt2 (h = +1: S3 = +1, right-handed). After the specimen
    S1 = h sinG sin2a, S2 = -h sinG cos2a, S3 = h cosG. Plate along the analyzer: (1 + S1 cos2b + S2 sin2b)/2;
    plate at 0, analyzer at +-45: (1 -+ S3)/2. With h = -1 these are the paper's signs (from memory)."""
    Im, V, h = Im_extra + I0 / 2, I0 / 2, handed
    s, c, k = h * V * math.sin(2 * a) * math.sin(G), h * V * math.cos(2 * a) * math.sin(G), h * V * math.cos(G)
    return [Im - k, Im + k, Im + s, Im - c, Im - s, Im + c]


def six_step(I, handed=1):
    """-> G in [0, pi], slow azimuth in [0, pi), Im, Iv. (G, a) and (2 pi - G, a + 90 deg) give the same six."""
    h = handed
    s, c, k = h * (I[2] - I[4]) / 2, h * (I[5] - I[3]) / 2, h * (I[1] - I[0]) / 2    # V sin2a sinG, V cos2a sinG, V cosG
    G = math.atan2(math.hypot(s, c), k)
    return G, 0.5 * math.atan2(s, c) % math.pi, float(sum(I) / 6), math.hypot(math.hypot(s, c), k)


# ------------------------------------------------------------------ (c) bias

def best_contrast(E):
    """Bias x (analyzer offset d, or half the retardance chi/2 of a compensator) of largest (dI/I): sin^2 x = 1/(E + 1)."""
    return math.asin(math.sqrt(1 / (E + 1)))


def best_signal_to_shot(E):
    """Bias of largest dI/sqrt(I) at fixed exposure: sin^2 x = 1/(1 + sqrt(E))."""
    return math.asin(math.sqrt(1 / (1 + math.sqrt(E))))


def biased(kind, bias, g, E):
    """Crossed polars of extinction ratio E (k1 = 1, k2 from E = (k1^2 + k2^2)/(2 k1 k2)), relative to parallel light.

    kinds: 'analyzer' retarder g at 45 deg, analyzer off by `bias`; 'aligned' the same with a quarter-wave plate whose slow axis
    lies along the lower polar, after the specimen; 'compensator' retarder g at 45 beside a retarder of 2*bias at 45 deg, polars
    crossed; 'rotation' a specimen that turns the light by g/2, analyzer off by `bias`."""
    k2 = 1 / (E + math.sqrt(E * E - 1))        # of the two roots the small one, without cancellation
    p, q = math.pi / 4, math.pi / 2
    el = {"analyzer": [ret(g, p)], "aligned": [ret(g, p), ret(q, 0.0)], "compensator": [ret(g, p), ret(2 * bias, p)],
          "rotation": [rotator(g / 2)]}[kind]
    d = 0.0 if kind == "compensator" else bias
    return light(polar(0, 1, k2), *el, polar(q + d, 1, k2)) / light(polar(0, 1, k2), polar(0, 1, k2))


def numeric_best(kind, E, what):
    """Bias of largest |dI|/I ('contrast') or |dI|/sqrt(I) ('shot'), by differences about g = 0."""
    def f(x):
        h = 1e-5
        dI = (biased(kind, x, h, E) - biased(kind, x, -h, E)) / (2 * h)
        I = biased(kind, x, 0.0, E)
        return -abs(dI) / (I if what == "contrast" else math.sqrt(I))
    r = minimize_scalar(f, bounds=(1e-5, 1.2), method="bounded", options={"xatol": 1e-12})
    return float(r.x), float(-r.fun)


def main():
    D = math.degrees
    out = {"note": "radians unless _deg; G retardance, a slow azimuth counter-clockwise; intensities relative to ideal parallel polars",
           "turned_polars": [], "six_step": [], "strain": [], "bias": []}
    for G, a_deg, k2 in ((0.05, 20.0, 0.0), (0.3, 70.0, 1e-3), (1.2, 33.3, 1e-4), (2.9, 5.0, 0.0), (0.01, 88.0, 1e-5)):
        I = [crossed_turned(G, math.radians(a_deg), p, 1.0, k2) for p in STEPS]
        g4, a4, L4 = four_step(I)
        g3, a3, L3 = three_step(I[:3])
        out["turned_polars"].append({
            "in": {"G": G, "a_deg": a_deg, "k1": 1.0, "k2": k2, "psi_deg": [0, 22.5, 45, 67.5]}, "I": I,
            "normalised_by": "(k1 - k2)^2 / 2", "L_closed": 2 * k2 / (1 - k2) ** 2,
            "four_step": {"G": g4, "a_deg_mod_90": D(a4), "L": L4}, "three_step": {"G": g3, "a_deg_mod_90": D(a3), "L": L3},
            "G_if_small_form": 2 * math.sin(G / 2)})
    for G, a_deg, h in ((0.2, 30.0, 1), (1.4, 110.0, 1), (2.5, 170.0, 1), (0.7, 62.0, -1)):
        I = six_intensities(G, math.radians(a_deg), h, 0.01)
        g, a, im, iv = six_step(I, h)
        out["six_step"].append({"in": {"G": G, "a_deg": a_deg, "handed": h, "background": 0.01,
                                       "settings": [{"name": n, "quarter_slow_deg": q, "analyzer_deg": b} for n, q, b in SIX]},
                                "I": I, "out": {"G": g, "a_deg": D(a), "Im": im, "Iv": iv}})
    r = math.radians
    plans = {
        "analyzer azimuths only": [dict(d=r(x)) for x in (-4, -2, 0, 2, 4)],
        "polars turned": [dict(psi=r(x)) for x in (0, 22.5, 45, 67.5)],
        "polars turned, analyzer off too": [dict(psi=r(p), d=r(x)) for p in (0, 22.5, 45) for x in (-3, 0, 3)],
        "polars turned, known retarder 0.1 rad at 30 degrees": [dict(psi=r(p), known=(0.1, r(30))) for p in (0, 15, 22.5, 45, 67.5)],
    }
    plans["polars turned, known retarder 0.1 rad at 30 degrees in and out"] = (
        [dict(psi=r(p)) for p in (0, 22.5, 45)] + [dict(psi=r(p), known=(0.1, r(30))) for p in (0, 22.5, 45)])
    for name, st in plans.items():
        u, v, L = 0.06, 0.035, 2e-4
        I = [setting_light(u, v, L, **k) for k in st]
        modes = strain(st, I)
        # In the order of u: in that of their misfits, which differ by rounding alone, machines disagree.
        good = sorted((m for m in modes if m[0] < 1e-6), key=lambda m: m[1])
        out["strain"].append({"in": {"u": u, "v": v, "L": L, "settings": [{k: (list(x) if k == "known" else x) for k, x in s.items()}
                                                                         for s in st]},
                              "name": name, "I": I, "fits_exactly": [{"u": m[1], "v": m[2], "L": m[3]} for m in good[:8]],
                              "number_of_exact_fits_found": len(good),
                              "sd_u_v_L_at_half_percent_of_each_light": sds(st, u, v, L, 0.005)})
    for E in (50.0, 600.0, 1e4, 1e6):
        row = {"E": E, "contrast_bias_deg": D(best_contrast(E)), "one_over_sqrt_E_deg": D(1 / math.sqrt(E)),
               "shot_bias_deg": D(best_signal_to_shot(E)), "kinds": {}}
        for kind in ("aligned", "compensator", "rotation"):
            c, s = numeric_best(kind, E, "contrast"), numeric_best(kind, E, "shot")
            row["kinds"][kind] = {"contrast_bias_deg": D(c[0]), "contrast_per_rad": c[1], "shot_bias_deg": D(s[0]), "signal_per_root_light": s[1]}
        c = numeric_best("analyzer", E, "contrast")
        row["kinds"]["analyzer"] = {"linear_contrast_per_rad": c[1]}
        out["bias"].append(row)
    with open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "phase.json"), "w") as f:
        json.dump(out, f, indent=1)
        f.write("\n")
    return out


if __name__ == "__main__":
    o = main()
    for k in ("turned_polars", "six_step"):
        for x in o[k]:
            print(x["in"]["G"], x["in"]["a_deg"], x.get("four_step"), x.get("three_step"), x.get("out"))
    for x in o["strain"]:
        print(x["name"], x["number_of_exact_fits_found"], x["fits_exactly"], x["sd_u_v_L_at_half_percent_of_each_light"])
    for x in o["bias"]:
        print(json.dumps(x))
    print(np.allclose(six_intensities(.7, .4), six_closed(.7, .4)))
