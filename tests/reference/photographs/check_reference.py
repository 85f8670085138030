"""Asserts for this reference. Run: /tmp/venv/bin/python test_ref.py (each test_* function in turn)."""
import glob
import json
import math
import os
import tempfile

import numpy as np
import tifffile
from PIL import Image

import phase_stepping as ps
import photographs as ph
from camera import cross_light, mean_electrons, parallel_light, render

HERE = os.path.dirname(os.path.abspath(__file__))
CASES = os.path.join(HERE, "cases")


def refused(f, *a, **k):
    try:
        f(*a, **k)
    except ph.Refused:
        return True
    return False


def pic(a, kind="linear16"):
    a = np.asarray(a)
    return ph.Picture(a if a.ndim == 3 else a[:, :, None], kind)


def case_files():
    return sorted(f for f in glob.glob(CASES + "/*.json") if "ellipse" not in f)


# ---- files

def test_png_against_pillow():
    rng = np.random.default_rng(1)
    with tempfile.TemporaryDirectory() as d:
        for dt, top in ((np.uint8, 256), (np.uint16, 65536)):
            a = rng.integers(0, top, (17, 23)).astype(dt)
            f = d + "/a.png"
            open(f, "wb").write(ph.png_bytes(a))
            assert (np.asarray(Image.open(f)) == a).all() and (ph.read_png(f)[0][:, :, 0] == a).all()
            Image.fromarray(np.cumsum(a, 1).astype(dt)).save(f)                 # Pillow picks its own filters
            assert (ph.read_png(f)[0][:, :, 0] == np.cumsum(a, 1).astype(dt)).all()
        c = rng.integers(0, 65536, (9, 11, 3)).astype(np.uint16)
        f = d + "/c.png"
        open(f, "wb").write(ph.png_bytes(c))
        assert (ph.read_png(f)[0] == c).all()
        a4 = np.dstack([c, np.full((9, 11), 65535, np.uint16)])
        open(f, "wb").write(ph.png_bytes(a4))
        assert (ph.load(f).raw == c).all()
        a4[3, 3, 3] = 65534
        open(f, "wb").write(ph.png_bytes(a4))
        assert refused(ph.load, f)
        open(f, "wb").write(ph.png_bytes(c.astype(np.uint8)))
        assert refused(ph.load, f) and ph.load(f, True).kind == "curve8"
        assert (np.asarray(Image.open(f)) == c.astype(np.uint8)).all()


def test_exif():
    with tempfile.TemporaryDirectory() as d:
        f = d + "/e.png"
        for args, h in ((((1, 2), 400, (28, 10)), 0.5 * 4 / 7.84), (((1, 500), None, None), 0.002), (((3, 1), 50, None), 1.5)):
            open(f, "wb").write(ph.png_bytes(np.ones((4, 4), np.uint16), ph.exif_block(*args)))
            assert abs(ph.load(f).exif / h - 1) < 1e-12
        open(f, "wb").write(ph.png_bytes(np.ones((4, 4), np.uint16)))
        n = ph.load(f)
        assert n.exif is None and refused(ph.exposures, [n], [n]) and refused(ph.exposures, [n], [n], [1.0], None)
        assert ph.exposures([n], [n], [1.0], [2.0]) == ([1.0], [2.0])


def test_float_not_finite_refused():
    with tempfile.TemporaryDirectory() as d:
        a = np.ones((5, 5), np.float32)
        a[2, 2] = np.nan
        tifffile.imwrite(d + "/n.tif", a)
        assert refused(ph.load, d + "/n.tif")


# ---- counts, exposure, merging

def test_values():
    assert ph.values(pic([[65535, 0, 100]]), 200)[0, :, 0].tolist() == [65335 / 65535, -200 / 65535, -100 / 65535]
    v = ph.values(pic([[0, 10, 11, 128, 255]], "curve8"))[0, :, 0]
    assert np.allclose(v, [0, 10 / 255 / 12.92, ((11 / 255 + 0.055) / 1.055) ** 2.4, 0.2158605, 1], atol=1e-7)
    assert refused(ph.values, pic([[1]], "curve8"), 3)


def test_saturated_is_one_below_or_not():
    s = ph.saturated(pic([[64224, 64225]]))[0]
    assert s.tolist() == [False, True]
    rgb = np.zeros((1, 2, 3), int)
    rgb[0, 1, 2] = 65000
    assert ph.saturated(pic(rgb))[0].tolist() == [False, True]
    assert ph.saturated(pic([[249, 250]], "curve8"))[0].tolist() == [False, True]


def test_merge():
    a, b = pic([[6553, 65535, 65535]]), pic([[655, 6553, 65535]])
    rate, ok = ph.merge([a, b], [10.0, 1.0])
    assert ok[0].tolist() == [True, True, False]
    assert np.allclose(rate[0, :2, 0], [(6553 + 655) / 65535 / 11, 6553 / 65535])
    assert np.isnan(rate[0, 2, 0])


# ---- geometry

def test_orientation():
    d = ph.Disc(50, 50, 40)
    for x, y, az in ((70, 50, 0), (50, 30, 90), (30, 50, 180), (50, 70, 270)):
        assert abs(math.degrees(float(ph.rho_azimuth(d, x, y)[1])) - az) < 1e-9
    assert abs(math.degrees(float(ph.rho_azimuth(d, 70, 49.9, True, 30)[1])) - (180 - math.degrees(math.atan(0.1 / 20)) + 30)) < 1e-9
    assert abs(math.degrees(float(ph.rho_azimuth(d, 70, 50, False, -30)[1])) - 330) < 1e-9


def test_ellipse_keeps_directions():
    """Points of the ellipse's rim have rho = 1 and, along its axes, their own azimuth."""
    d = ph.Disc(60, 55, 50, 49, math.radians(30))
    for k in range(24):
        e = 2 * math.pi * k / 24
        al, ac = 50 * math.cos(e), 49 * math.sin(e)
        x = 60 + al * math.cos(d.t) - ac * math.sin(d.t)
        y = 55 - (al * math.sin(d.t) + ac * math.cos(d.t))
        rho, az = ph.rho_azimuth(d, x, y)
        assert abs(rho - 1) < 1e-12 and abs(math.remainder(az - e - d.t, 2 * math.pi)) < 1e-12
    assert refused(ph.Disc, 0, 0, 50, 48)


def test_zones_have_equal_area():
    z = ph.zone_map((1500, 1500), ph.Disc(750.3, 749.6, 700), 5, 16)
    n = np.bincount(z[z >= 0], minlength=80)
    assert len(n) == 80 and abs(n / (math.pi * 700 ** 2 * 0.98 ** 2 / 80) - 1).max() < 0.01
    assert int(ph.zone_of(np.array(0.979), np.array(6.28), 5, 16)) == 79
    assert int(ph.zone_of(np.array(0.9801), np.array(0.0), 5, 16)) == -1


# ---- the whole, against plain loops

def slow(case, folder):
    """The page again, pixel by pixel, without any array expression of photographs.py but the reading of files."""
    load = lambda f: ph.load(os.path.join(folder, f), case["accept_curves"])
    C, P = [load(f) for f in case["crossed"]], [load(f) for f in case["parallel"]]
    hc, hp = case["H_crossed"], case["H_parallel"]
    rows, cols, chs = C[0].raw.shape
    R, S, rad = case["rings"], case["sectors"], case["radius"]

    def rate(pics, hs, i, j):
        num, den = [0.0] * chs, 0.0
        for p, h in zip(pics, hs):
            raw = [p.raw[j, i, k] for k in range(chs)]
            if any(v >= case["saturation"] * p.full for v in raw):
                continue
            den += h
            for k in range(chs):
                if p.kind == "linear16":
                    num[k] += (raw[k] - case["dark_counts"]) / 65535
                elif p.kind == "curve8":
                    s = raw[k] / 255
                    num[k] += s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4
                else:
                    num[k] += raw[k]
        return [v / den for v in num] if den else None

    cells = [dict(c=[], p=[], b=[0] * chs, dc=[], dp=[]) for _ in range(R * S)]
    longest = hc.index(max(hc))
    for j in range(rows):
        before = None
        for i in range(cols):
            X, Y = (i + 0.5 - case["center_x"]) / rad, -(j + 0.5 - case["center_y"]) / rad
            w = (X * X + Y * Y) / 0.98 ** 2
            now = None
            if w < 1:
                if case["flip"]:
                    X = -X
                az = (math.atan2(Y, X) + math.radians(case["turn_deg"])) % (2 * math.pi)
                z = int(w * R) * S + int(az / (2 * math.pi) * S)
                c, p = rate(C, hc, i, j), rate(P, hp, i, j)
                if c and p:
                    cell = cells[z]
                    cell["c"].append(c), cell["p"].append(p)
                    for k in range(chs):
                        cell["b"][k] += C[longest].raw[j, i, k] == 0
                    if before and before[0] == z:
                        cell["dc"].append([a - b for a, b in zip(c, before[1])])
                        cell["dp"].append([a - b for a, b in zip(p, before[2])])
                    now = (z, c, p)
            before = now
    out = []
    expected = math.pi * rad * rad * 0.98 ** 2 / (R * S)
    q = 0 if case["kind"] == "float" else 1 / 65535 / sum(hc)
    for k in range(chs):
        for z, cell in enumerate(cells):
            n = len(cell["c"])
            o = dict(n=n, why=None, ratio=None, err=None)
            out.append(o)
            if n < expected / 2 or n < 16:
                o["why"] = "few_pixels"
                continue
            c, p = math.fsum(v[k] for v in cell["c"]) / n, math.fsum(v[k] for v in cell["p"]) / n
            o["c"], o["p"] = c, p
            if cell["b"][k] > 0.05 * n:
                o["why"] = "too_dark"
            elif c <= 0 or p <= 0:
                o["why"] = "no_light"
            else:
                sc2 = math.fsum(v[k] ** 2 for v in cell["dc"]) / len(cell["dc"]) / 2
                sp2 = math.fsum(v[k] ** 2 for v in cell["dp"]) / len(cell["dp"]) / 2
                e2 = sc2 / n / c ** 2 + sp2 / n / p ** 2 + ((0.29 * q / c) ** 2 if math.sqrt(sc2) < 0.5 * q else 0)
                o["ratio"], o["err"] = p / c, math.sqrt(e2)
    return out


def test_cases_against_loops():
    assert 6 <= len(case_files()) <= 8
    for f in case_files():
        case = json.load(open(f))
        got = slow(case, CASES)
        assert len(got) == len(case["zones"])
        for a, b in zip(got, case["zones"]):
            assert a["n"] == b["n"] and a["why"] == b["left_out"], (f, a, b)
            for x, y in ((a.get("c"), "crossed"), (a.get("p"), "parallel"), (a["ratio"], "ratio"), (a["err"], "rel_error")):
                if x is not None:
                    assert abs(x - b[y]) <= 1e-10 * abs(x), (f, x, b)


def test_cases_cover_the_page():
    cs = {json.load(open(f))["case"]: json.load(open(f)) for f in case_files()}
    why = {z["left_out"] for c in cs.values() for z in c["zones"]}
    assert why == {None, "few_pixels", "too_dark", "no_light"}
    assert {c["kind"] for c in cs.values()} == {"linear16", "curve8", "float"}
    assert any(z["quantised"] for z in cs["exif"]["zones"]) and not all(z["quantised"] for z in cs["exif"]["zones"])
    blue_only = [z for z in cs["rgb"]["zones"] if z["left_out"] == "too_dark"]
    assert blue_only and {z["channel"] for z in blue_only} == {2}
    m = cs["merged"]["saturated_in_all_exposures"]
    assert m["parallel"] > 0 and cs["merged"]["pictures"]["merged-crossed-2.png"]["saturated"] > 500
    assert cs["cut"]["flip"] and cs["cut"]["turn_deg"] and any(z["pixels"] == 0 for z in cs["cut"]["zones"])
    assert sum(os.path.getsize(f) for f in glob.glob(CASES + "/*") if not f.endswith("json")) < 600_000


def test_curve_case_does_not_hang_on_the_step():
    """Choice 8 (what one count is with 8 bits) changes nothing in the case."""
    c = json.load(open(CASES + "/curve.json"))
    for step in (1 / 65535, 1 / 255 / 12.92, 1 / 255):
        for z in c["zones"]:
            assert z["s_crossed"] >= 0.5 * step / sum(c["H_crossed"])


def test_uniform_picture_by_hand():
    """A picture of two alternating columns: c, s and error follow from a pencil."""
    a = np.full((100, 100), 1000)
    a[:, 1::2] = 1100
    b = np.full((100, 100), 40000)
    z = ph.analyse([pic(a)], [pic(b)], [2.0], [0.5], ph.Disc(50.2, 50.3, 45), 3, 8)[4]
    assert abs(z.s_crossed / (100 / 65535 / 2 / math.sqrt(2)) - 1) < 1e-12 and z.s_parallel == 0
    assert abs(z.parallel / (40000 / 65535 / 0.5) - 1) < 1e-12 and abs(z.crossed * 2 * 65535 - 1050) < 10
    assert abs(z.rel_error - z.s_crossed / z.crossed / math.sqrt(z.n)) < 1e-15
    z = ph.analyse([pic(b * 0 + 7)], [pic(b)], [2.0], [0.5], ph.Disc(50.2, 50.3, 45), 3, 8)[4]
    assert z.quantised and abs(z.rel_error - 0.29 / 7) < 1e-12


def test_orientation_is_undone():
    """A picture taken mirrored and turned reads the same zones as an upright one (no noise to speak of)."""
    f = lambda rho, az: 0.2 + 0.1 * rho * np.cos(az - 1) + 0.05 * rho ** 2 * np.sin(3 * az)
    ref = None
    for flip, turn in ((False, 0.0), (True, 0.0), (True, 77.0), (False, -140.0)):
        k = dict(full_well=1e12, read_noise=0, bits=16, vignetting=0, centre=(150.2, 140.7), radius=130.0, turn=turn, flip=flip,
                 size=(300, 282))
        a = pic(render(f, 1.0, seed=1, **k).astype(int))
        b = pic(render(parallel_light(0.8, 0, 0), 1.0, seed=2, **k).astype(int))
        r = np.array([z.ratio for z in ph.analyse([a], [b], [1.0], [1.0], ph.Disc(150.2, 140.7, 130.0), 5, 16, 0, 0.98, flip, turn)])
        ref = r if ref is None else ref
        assert abs(r / ref - 1).max() < 0.01


def test_camera():
    k = dict(full_well=10000, vignetting=0.3, centre=(70.0, 60.0), radius=50.0, turn=0, flip=False, size=(140, 120))
    flat = lambda rho, az: 0.5 + 0 * rho
    mu = mean_electrons(flat, 1.0, **k)
    assert abs(mu[60, 70] / 5000 - 1) < 1e-3 and mu[0, 0] == 0
    v = np.stack([render(flat, 1.0, read_noise=5.0, bits=12, seed=s, offset=50.0, **k)[60, 70] for s in range(400)]).astype(float)
    assert abs(v.mean() - (5000 / 10000 * 4095 + 50)) < 5 and abs(v.std() / (math.sqrt(5025) * 0.4095) - 1) < 0.15
    assert (render(flat, 1.0, read_noise=5.0, bits=12, seed=3, **k) == render(flat, 1.0, read_noise=5.0, bits=12, seed=3, **k)).all()
    assert render(flat, 9.0, read_noise=0.0, bits=12, seed=3, **k).max() == 4095


# ---- phase stepping and bias

def test_turned_polars_exact():
    rng = np.random.default_rng(4)
    for _ in range(300):
        G, a, k2 = rng.uniform(0.02, 3.1), rng.uniform(0, math.pi), 10 ** rng.uniform(-7, -2)
        I = [ps.crossed_turned(G, a, p, 1.0, k2) for p in ps.STEPS]
        L = 2 * k2 / (1 - k2) ** 2
        for g, b, l in (ps.four_step(I), ps.three_step(I[:3]), ps.n_step(ps.STEPS, I)[:3]):
            assert abs(g - G) < 1e-7 and abs(math.remainder(b - a, math.pi / 2)) < 1e-9 and abs(l - L) < 1e-12
        assert abs(I[0] + I[2] - I[1] - I[3]) < 1e-14
        psi = rng.uniform(0, math.pi)
        assert abs(ps.crossed_turned(G, a, psi, 1.0, k2) - L - math.sin(G / 2) ** 2 * math.sin(2 * (a - psi)) ** 2) < 1e-13


def test_second_order_form_of_the_page():
    """The largest remainder over many draws falls as h^3 with small d and r, as h^4 with any d and r = 0. (Single draws
    may cross zero, so the largest is compared.)"""
    rng = np.random.default_rng(5)
    hs = (0.08, 0.04, 0.02, 0.01)
    worst = np.zeros((2, 4))
    for _ in range(500):
        u, v, d, r = rng.uniform(-1, 1, 4)
        D = rng.uniform(-1.5, 1.5)
        for n, h in enumerate(hs):
            worst[0, n] = max(worst[0, n], abs(ps.setting_light(h * u, h * v, 0, 0, h * d, h * r)
                                               - ps.second_order(h * u, h * v, 0, h * d, h * r)))
            worst[1, n] = max(worst[1, n], abs(ps.setting_light(h * u, h * v, 0, 0, D) - ps.second_order(h * u, h * v, 0, D)))
    fall = worst[:, 1:] / worst[:, :-1]
    assert abs(fall[0] - 1 / 8).max() < 0.015 and abs(fall[1] - 1 / 16).max() < 0.003, fall


def test_where_the_rotation_sits():
    """Third-order term r u v: rotation after the strain gives the page's form with d - r in every place (minimum L + v^2/4);
    before the strain v becomes v - 2 r u; half before and half after gives the page's form as it is written."""
    def exact(u, v, d, before, after):
        J = ps.rotator(after) @ ps.ret(math.hypot(u, v), 0.5 * math.atan2(v, u)) @ ps.rotator(before)
        return abs(np.array([-math.sin(d), math.cos(d)]) @ J @ np.array([1.0, 0.0])) ** 2
    rng = np.random.default_rng(8)
    for _ in range(100):
        u, v, d, r = 0.02 * rng.uniform(-1, 1, 4)
        assert abs(exact(u, v, d, 0, r) - ps.second_order(u, v, 0, d - r)) < 2e-8
        assert abs(exact(u, v, d, r, 0) - ps.second_order(u * math.cos(2 * r) + v * math.sin(2 * r),
                                                          v * math.cos(2 * r) - u * math.sin(2 * r), 0, d - r)) < 2e-8
        assert abs(exact(u, v, d, r / 2, r / 2) - ps.second_order(u, v, 0, d, r)) < 1e-7
    h = 0.02
    assert abs(exact(h, h, h, h, 0) - ps.second_order(h, h, 0, h, h)) > 2e-6      # the r u v term is really there


def test_minimum_of_the_analyzer():
    from scipy.optimize import minimize_scalar
    u, v, r = 0.06, 0.035, 0.002
    m = minimize_scalar(lambda d: ps.setting_light(u, v, 1e-4, 0, d, r), bounds=(-0.05, 0.05), method="bounded", options={"xatol": 1e-12})
    assert abs(m.x - (r + u * v / 4)) < 2e-6 and abs(m.fun - (1e-4 + v * v / 4)) < 1e-6


def test_strain_modes():
    o = ps.main()
    n = {s["name"]: s["number_of_exact_fits_found"] for s in o["strain"]}
    assert n["polars turned"] == 2 and n["polars turned, known retarder 0.1 rad at 30 degrees in and out"] == 1
    two = next(s for s in o["strain"] if s["name"] == "polars turned, known retarder 0.1 rad at 30 degrees")["fits_exactly"]
    U, V = 0.1 * math.cos(math.radians(60)), 0.1 * math.sin(math.radians(60))
    assert len(two) == 2 and abs(two[1]["u"] + two[0]["u"] + 2 * U) < 2e-4 and abs(two[1]["v"] + two[0]["v"] + 2 * V) < 2e-4


def test_six_step():
    rng = np.random.default_rng(6)
    for _ in range(300):
        G, a, h = rng.uniform(0.01, 3.13), rng.uniform(0, math.pi), rng.choice([-1, 1])
        bg, I0 = rng.uniform(0, 0.1), rng.uniform(0.2, 3)
        I = ps.six_intensities(G, a, h, bg, I0)
        assert np.allclose(I, ps.six_closed(G, a, h, bg, I0), atol=1e-13)
        g, b, im, iv = ps.six_step(I, h)
        assert abs(g - G) < 1e-9 and abs(math.remainder(b - a, math.pi)) < 1e-9
        assert abs(im - bg - I0 / 2) < 1e-12 and abs(iv - I0 / 2) < 1e-12
    assert np.allclose(ps.six_intensities(2 * math.pi - 1.1, 0.4 + math.pi / 2), ps.six_intensities(1.1, 0.4))


def test_bias():
    for E in (20.0, 600.0, 1e5):
        assert abs(ps.biased("rotation", 0.0, 0.0, E) * E - 1) < 1e-9
        for kind in ("aligned", "compensator", "rotation"):
            x, c = ps.numeric_best(kind, E, "contrast")
            assert abs(x / ps.best_contrast(E) - 1) < 1e-4
            assert abs(math.sin(x) * math.sqrt(E + 1) - 1) < 1e-4
            assert abs(c / ((E - 1) / (2 * math.sqrt(E))) - 1) < 1e-5         # largest contrast per radian of retardance
            x, s = ps.numeric_best(kind, E, "shot")
            assert abs(x / ps.best_signal_to_shot(E) - 1) < 1e-4
            assert abs(s / (1 - 1 / math.sqrt(E)) - 1) < 1e-5
        # a bare retarder at 45 degrees with the analyzer off: no linear term, and off crossed never beats crossed
        g = 1e-3
        f = lambda d: (ps.biased("analyzer", d, g, E) - ps.biased("analyzer", d, 0, E)) / ps.biased("analyzer", d, 0, E)
        assert abs(ps.biased("analyzer", 0.1, g, E) - ps.biased("analyzer", 0.1, -g, E)) < 1e-15
        assert all(f(0.0) > f(d) for d in (-0.3, -0.05, 0.02, 0.05, 0.3))


if __name__ == "__main__":
    for name, f in list(globals().items()):
        if name.startswith("test_"):
            f()
            print("ok", name)
