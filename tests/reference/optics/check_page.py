"""The numbers stated in the first description of the model (tests/published/SOURCES.md) that the functions of model.py reach.  python check_page.py"""
import math
import sys
import warnings
from types import SimpleNamespace

import numpy as np

import model
from model import GLASS, CRYSTAL, Rays, clamp, clamp_stress, interface, lens_surface, multiply, retarder, turned

warnings.filterwarnings("ignore")
READ = model.first_readings()
failures = []
KNOWN = {   # do not come out, and why (readings.md, last section)
    "rms over r < 0.8 R, 2 contacts": "7.0574 on two very different grids: the page's figure is short of converged",
    "radial 10 nm, disc mean leak": "the page prints the small-angle formula (pi Gamma/lambda)^2/6, not the mean itself",
    "coated 30 deg phase p - s": "size agrees; sign is + in exp(i(kz - wt)), as the page asks to recheck",
    "coated 40.5 deg phase p - s": "same", "coated 60 deg phase p - s": "same",
}


def check(what, got, expected, digits_unit):
    """digits_unit: half of the last printed digit, or what the page allows."""
    good = abs(got - expected) <= digits_unit
    if not good:
        failures.append(what)
    print(f"{'ok  ' if good else 'FAIL'} {what:58s} got {got:.9g}  page {expected:.9g}")


def one_ray(s, phi=0.0, nm=550.0):
    return SimpleNamespace(s=np.array([[s]]), phi=np.array([[phi]]), nm=np.array([[nm]]))


# A: conventions -----------------------------------------------------------------------------------
h = np.array([1.0, 0])
q = retarder(137.5, math.radians(135), np.array([[550.0]]))[:, :, 0, 0] @ h      # fast axis at +45
check("quarter wave, fast +45, H in: S3", 2 * (q[0] * np.conj(q[1])).imag, 1.0, 1e-12)
half = retarder(275.0, math.radians(110), np.array([[550.0]]))[:, :, 0, 0] @ h   # fast axis at 20
check("half wave, fast 20: S1", abs(half[0])**2 - abs(half[1])**2, 0.173648, 5e-7)
check("half wave, fast 20: S2", 2 * (half[0] * np.conj(half[1])).real, 0.984808, 5e-7)
r = retarder(100 / 360 * 550.0, math.radians(30), np.array([[550.0]]))[:, :, 0, 0]
check("retarder 100 deg at 30 between crossed polars", abs(r[1, 0])**2, 0.440118, 5e-7)
# sign of S3 through coherency(): right circular (1, -i)/sqrt2 passes a right analyzer fully
right = np.array([1, -1j]) / math.sqrt(2)
check("coherency of S = (1,0,0,1) is right circular", (np.conj(right) @ model.coherency([1, 0, 0, 1]) @ right).real, 1, 1e-12)

# B: indices -----------------------------------------------------------------------------------------
for name, f, values in (("n-bk7", GLASS["n-bk7"], (1.52238, 1.51872, 1.51673, 1.51432)),
                        ("sf57", GLASS["sf57"], (1.87204, 1.85504, 1.84636, 1.83650)),
                        ("fused silica", GLASS["fused silica"], (1.46313, 1.46008, 1.45840, 1.45637)),
                        ("borofloat 33", GLASS["borofloat 33"], (1.47642, 1.47320, 1.47143, 1.46928)),
                        ("soda-lime", GLASS["soda-lime"], (1.52902, 1.52534, 1.52331, 1.52083)),
                        ("pmma", GLASS["pmma"], (1.49836, 1.49449, 1.49245, 1.49007)),
                        ("polycarbonate", GLASS["polycarbonate"], (1.59960, 1.58975, 1.58458, 1.57861)),
                        ("b270 (fit)", model.b270_fit, (1.52920, 1.52510, 1.52290, 1.52030))):
    for nm, value in zip((486.13, 546.07, 589.29, 656.27), values):
        check(f"index {name} {nm}", float(f(nm)), value, 1.2e-4 if "fit" in name else 6e-6)
for name, values in (("quartz", (0.009287, 0.009166, 0.009100, 0.009019)),
                     ("quartz radhakrishnan", (0.009296, 0.009180, 0.009117, 0.009039)),
                     ("calcite", (-0.177158, -0.173953, -0.172214, -0.170107)),
                     ("mgf2", (0.011922, 0.011851, 0.011812, 0.011763))):
    o, e = CRYSTAL[name]
    for nm, value in zip((486.13, 546.07, 589.29, 656.27), values):
        check(f"birefringence {name} {nm}", float(e(nm) - o(nm)), value, 6e-7)
space = SimpleNamespace(readings=READ)
plate = {"path_difference_nm": 550, "at_nm": 550, "material": "quartz", "azimuth_deg": 45}
for nm, value in ((400, 0.95952), (435.8, 0.65132), (486.1, 0.19888), (546.1, 0.00061), (589.3, 0.05137), (700, 0.43761)):
    check(f"quartz red plate, crossed, {nm} nm", float(abs(model.plate_jones(plate, one_ray(0, nm=nm), space)[1, 0, 0, 0])**2), value, 1.2e-5)

# D: stress in a disc --------------------------------------------------------------------------------
two = {"contacts": 2, "force_n": 10.0, "diameter_mm": 25.0, "azimuth_deg": 90.0}
for (x, y), values in (((0, 0), (0.050930, -0.152789, 0, 0.203718, 0)), ((4, 0), (0.033764, -0.116700, 0, 0.150465, 0)),
                       ((0, 6), (0.050930, -0.213777, 0, 0.264707, 0)), ((3, 5), (0.028726, -0.143895, 0.038695, 0.189175, 12.074))):
    stress = [v / 5 for v in clamp_stress(two, np.array(x / 12.5), np.array(y / 12.5))]
    gamma, azimuth = clamp(two, np.array(x / 12.5), np.array(y / 12.5), {"glass": "N-BK7"}, READ)
    for label, got, value in zip(("sxx", "syy", "sxy", "s1-s2"), (*stress, gamma / 2.77 / 5), values):
        check(f"disc ({x},{y}) {label}", float(got), value, 6e-7)
    check(f"disc ({x},{y}) azimuth of s1", math.degrees(azimuth), values[4], 6e-4)
check("clamp centre, two forces, N-BK7, nm", float(clamp(two, 0.0, 0.0, {"glass": "N-BK7"}, READ)[0]), 2.8215, 6e-5)
check("clamp centre, two forces, B 270, nm", float(clamp(two, 0.0, 0.0, {"glass": "B270"}, READ)[0]), 2.8011, 6e-5)
unit = {"diameter_mm": 2.0, "force_n": 2 * math.pi, "azimuth_deg": 0.0, "stress_optic_brewster": 1.0}
for m, value in ((2, 8), (3, 0), (4, 0)):
    check(f"centre, {m} contacts, P/(pi D t)", float(clamp(unit | {"contacts": m}, 0.0, 0.0, {}, READ)[0]), value, 1e-12)
three = unit | {"contacts": 3}
check("3 contacts r/R 0.25 on load radius", float(clamp(three, 0.25, 0.0, {}, READ)[0]), 4.35374, 6e-6)
check("3 contacts r/R 0.25 midway", float(clamp(three, -0.25, 0.0, {}, READ)[0]), 4.08994, 6e-6)
rays = Rays(0.8, 48, 384, np.array([550.0]))
for m, value in ((2, 7.056), (3, 7.117)):
    g, _ = clamp(unit | {"contacts": m}, rays.s * np.cos(rays.phi), rays.s * np.sin(rays.phi), {}, READ)
    check(f"rms over r < 0.8 R, {m} contacts", math.sqrt(float(np.sum(g**2 * rays.weight))), value, 6e-4)
sxx, syy, sxy = clamp_stress(three, math.cos(1.0), math.sin(1.0))
check("free rim, traction x", sxx * math.cos(1) + sxy * math.sin(1), 0, 1e-12)
check("free rim, traction y", sxy * math.cos(1) + syy * math.sin(1), 0, 1e-12)
rays = Rays(1.0, 16, 48, np.array([546.1]))
m = retarder(10 * rays.s**2, rays.phi, rays.nm)
check("radial 10 nm, disc mean leak", float(np.sum(abs(m[1, 0])**2 * rays.weight)), 5.516e-4, 6e-8)

# E: sheets ------------------------------------------------------------------------------------------
nm = np.arange(380.0, 751, 5)
for name, values in (("iodine-dense", (9.76e-7, 1.18e5, 1.17e5, .279, .281)), ("iodine-medium", (2.54e-5, 9.7e3, 1.29e4, .172, .054)),
                     ("iodine-pale", (1.39e-3, 241, 383, .156, .071))):
    k1, k2 = model.sheet_transmittances({"sheet": name}, nm, None, READ)
    cmf = model.observer(nm)
    d65, a = (model.lamp({"source": s}, nm, None, READ) for s in ("cie-d65", "cie-a"))
    xyz = cmf @ (d65 * k1 * k2) / (cmf[1] @ d65)
    check(f"{name} crossed Y D65", xyz[1], values[0], 0.006 * values[0])
    check(f"{name} E D65", cmf[1] @ (d65 * (k1**2 + k2**2) / 2) / (cmf[1] @ (d65 * k1 * k2)), values[1], 0.006 * values[1])
    check(f"{name} E ill. A", cmf[1] @ (a * (k1**2 + k2**2) / 2) / (cmf[1] @ (a * k1 * k2)), values[2], 0.006 * values[2])
    check(f"{name} crossed x", xyz[0] / xyz.sum(), values[3], 6e-4)
    check(f"{name} crossed y", xyz[1] / xyz.sum(), values[4], 6e-4)


def crossed_ideal_sheets(theta_deg, phi_deg, n=1.5):
    """Two ideal O-type sheets, absorption axes x and y, one ray; leak of the polarized light."""
    ray = one_ray(math.sin(math.radians(theta_deg)), math.radians(phi_deg))
    one, zero = np.ones((1, 1)), np.zeros((1, 1))
    a = model.sheet_oblique(one, zero, math.radians(90), n, ray, 1.0, 1.0, True, READ)
    b = model.sheet_oblique(one, zero, 0.0, n, ray, 1.0, 1.0, True, READ)
    return float(np.sum(abs(multiply(b, a))**2) / np.sum(abs(a)**2))


for theta, phi, value, unit_ in ((5, 45, 2.859e-6, 6e-10), (10, 45, 4.551e-5, 6e-9), (20, 45, 7.123e-4, 6e-8),
                                 (30, 45, 3.460e-3, 6e-7), (60, 45, 0.04, 1e-12), (80, 45, 7.548e-2, 6e-6),
                                 (30, 22.5, 1.7331e-3, 6e-8), (60, 10, 4.85043e-3, 6e-9)):
    check(f"Yeh-Gu leak, {theta} deg in air, azimuth {phi}", crossed_ideal_sheets(theta, phi), value, unit_)
for na, value in ((0.05, 1.94e7), (0.10, 1.211e6), (0.25, 30458), (0.40, 4495), (0.65, 587), (0.90, 137)):
    ray = Rays(na, 24, 48, np.array([550.0]))
    one, zero = np.ones((1, 1)), np.zeros((1, 1))
    a = model.sheet_oblique(one, zero, 0.0, 1.5, ray, 1.0, 1.0, True, READ)
    b = model.sheet_oblique(one, zero, math.pi / 2, 1.5, ray, 1.0, 1.0, True, READ)
    got = np.sum(np.sum(abs(a)**2, axis=(0, 1)) * ray.weight) / np.sum(np.sum(abs(multiply(b, a))**2, axis=(0, 1)) * ray.weight)
    check(f"two ideal sheets in a filled cone, NA {na}: E", float(got), value, {0.05: 6e4, 0.10: 600}.get(na, 0.6))

# F, K: surfaces -------------------------------------------------------------------------------------
for theta, rs, rp, ratio in ((10, .043894, .040467, 1.001791), (30, .060661, .026783, 1.017873), (45, .095978, .009212, 1.046890),
                             (67, .260558, .021225, 1.150507), (80, .545142, .235751, 1.296222)):
    p, s = interface(np.array(math.sin(math.radians(theta))), 1.0, 1.5168)
    check(f"Fresnel {theta} deg Ts", float(s)**2, 1 - rs, 6e-7)
    check(f"Fresnel {theta} deg Tp", float(p)**2, 1 - rp, 6e-7)
    check(f"Fresnel {theta} deg tp/ts", float(p / s), ratio, 6e-7)
    i = math.radians(theta)
    beta = np.array(i - math.asin(math.sin(i) / 1.5168))
    lp, ls = lens_surface(beta, 1.5168, "none", 550.0)
    check(f"the same by the lens formulas, Tp", float(lp)**2, 1 - rp, 6e-7)
    check(f"the same by the lens formulas, Ts", float(ls)**2, 1 - rs, 6e-7)
for theta, leak1, leak2 in ((30, 7.8454e-5, 3.1377e-4), (60, 2.4895e-3, 9.9086e-3)):
    i = math.radians(theta)
    p, s = lens_surface(np.array(i - math.asin(math.sin(i) / 1.5168)), 1.5168, "none", 550.0)
    for n, value in ((1, leak1), (2, leak2)):
        c = turned(math.radians(45), np.array(float(p)**n), np.array(float(s)**n))
        check(f"leak of {n} surface(s) at {theta} deg, 45 azimuth", float(abs(c[1, 0])**2 / abs(c[0, 0])**2), value, 6e-5 * value)
for theta, bare, coated, phase, rs, rp in ((30, 1.017949, 1.006870, -0.0684, .02044, .00694),
                                           (40.5, 1.036148, 1.014689, -0.2286, .03159, .00294),
                                           (60, 1.105435, 1.051070, -1.0783, .10031, .00607)):
    i = math.radians(theta)
    beta = np.array(i - math.asin(math.sin(i) / 1.5185))
    p, s = lens_surface(beta, 1.5185, "none", 550.0)
    check(f"bare {theta} deg tp/ts", float(p / s), bare, 6e-7)
    p, s = lens_surface(beta, 1.5185, "mgf2", 550.0, film=1.3785)
    check(f"coated {theta} deg |tp/ts|", float(abs(p / s)), coated, 6e-7)
    check(f"coated {theta} deg phase p - s", float(np.degrees(np.angle(p / s))), phase, 6e-5)
    check(f"coated {theta} deg Rs", 1 - float(abs(s))**2, rs, 6e-6)
    check(f"coated {theta} deg Rp", 1 - float(abs(p))**2, rp, 6e-6)
p, s = lens_surface(np.array(0.2), 1.38, "mgf2", 550.0)     # film and substrate matched: phase of the film alone
i = math.atan2(1.38 * math.sin(0.2), 1.38 * math.cos(0.2) - 1)
print(f"     matched layer: arg t_s = {float(np.angle(s)):.9f}, +delta = {math.pi / 2 * math.cos(i - 0.2):.9f}")
check("matched layer gives exp(+i delta)", float(np.angle(s)), math.pi / 2 * math.cos(i - 0.2), 1e-12)

# G, H: lamps and colours --------------------------------------------------------------------------------
fine = np.arange(380.0, 781)
cmf = model.observer(fine)
for source, rows in (("cie-d65", ((551, .1334, .0524, .4270), (158, .5691, .6091, .8559), (998, .5946, .3996, .4060))),):
    power = model.lamp({"source": source}, fine, None, READ)
    for gamma, *values in rows:
        xyz = cmf @ (power * np.sin(np.pi * gamma / fine)**2) / (cmf[1] @ power)
        for axis, got, value in zip("XYZ", xyz, values):
            check(f"{source} {gamma} nm {axis}", got, value, 1.1e-4)
power_a = model.lamp({"source": "cie-a"}, fine, None, READ)
formula = model.lamp({"source": "cie-a"}, fine, None, READ | {"cie_a": "formula"})
for x, value in ((400, 14.708), (500, 59.8611), (700, 198.2612)):
    check(f"illuminant A formula {x}", float(formula[fine == x][0]), value, 6e-4)
b3 = model.lamp({"source": "led-b3"}, np.array([450.0, 455, 500, 560, 600, 650]), None, READ)
for got, value in zip(b3, (18.87, 14.58, 8.94, 15.08, 16.50, 9.85)):
    check("LED-B3 power", float(got), value, 0.006)

# L: uniaxial plates ------------------------------------------------------------------------------------
no, ne = (f(589.3) for f in CRYSTAL["quartz"])
for na, values in ((0, (550, 550, 550)), (.25, (542.744, 550.027, 557.308)), (.5, (520.371, 550.749, 581.117)),
                   (.65, (498.901, 552.442, 605.950)), (.85, (459.179, 558.626, 657.947))):
    for delta, value in zip((0, 45, 90), values):
        d = math.radians(delta)
        got = 60439.3 * model.uniaxial_path_per_thickness(no, ne, na * math.cos(d), na * math.sin(d))
        check(f"quartz plate NA {na}, {delta} deg from the axis", float(got), value, 2e-3)

# The film above an ideal condenser -------------------------------------------------------------
from pathlib import Path                                                      # noqa: E402
ratio = model.predict(Path(__file__).parent / "cases" / "a07-na065-film-ideal-lenses.toml")["extinction_ratio"]
check("NA 0.65, film above an ideal condenser: 1/leak", ratio, 1344, 0.5)

print(f"\n{len(failures)} do not come out")
for name in failures:
    print(f"  {name}: {KNOWN.get(name, 'NOT EXPECTED')}")
sys.exit(any(name not in KNOWN for name in failures))
