"""Writes /tmp/ref14/cases: pictures of an invented aperture and what the page's rules make of them."""
import json
import math
import os
import sys

import numpy as np
import tifffile

import photographs as ph
from camera import cross_light, parallel_light, render

HERE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "cases")


def save_png(name, a, exif=None):
    with open(os.path.join(HERE, name), "wb") as f:
        f.write(ph.png_bytes(a, exif))


def save_tiff(name, a):
    tifffile.imwrite(os.path.join(HERE, name), a, photometric="minisblack", compression=None, metadata=None,
                     software=False)


def to16(a, bits):
    """bits-bit counts at the top of 16 bits, full scale kept at full scale by repeating the high bits."""
    a = a.astype(np.uint32)
    return ((a << (16 - bits)) | (a >> (2 * bits - 16))).astype(np.uint16)


def spots(a, seed, hot, dead, value, centre, radius):
    """Some pixels of the disc put to full scale and some to 0 (single-channel planes or all channels)."""
    rng = np.random.default_rng(seed)
    rows, cols = a.shape[:2]
    for k in range(hot + dead):
        r, t = radius * math.sqrt(rng.uniform(0, 0.9)), rng.uniform(0, 2 * math.pi)
        i, j = int(centre[0] + r * math.cos(t)), int(centre[1] + r * math.sin(t))
        if 0 <= i < cols and 0 <= j < rows:
            a[j, i] = value if k < hot else 0
    return a


def finish(name, about, crossed, parallel, hc, hp, centre, radius, rings, sectors, dark=0, saturation=0.98, flip=False,
           turn=0.0, curves=False, from_exif=False):
    load = lambda f: ph.load(os.path.join(HERE, f), curves)
    pc, pp = [load(f) for f in crossed], [load(f) for f in parallel]
    disc = ph.Disc(centre[0], centre[1], radius)
    if from_exif:
        hc, hp = ph.exposures(pc, pp)
    else:
        hc, hp = ph.exposures(pc, pp, hc, hp)
    zones = ph.analyse(pc, pp, hc, hp, disc, rings, sectors, dark, saturation, flip, turn)
    shape = pc[0].raw.shape
    mw, ms = ph.border_margin(shape, disc, rings, sectors, flip, turn)
    zmap = ph.zone_map(shape, disc, rings, sectors, flip, turn)
    _, ec = ph.merge(pc, hc, dark, saturation)
    _, ep = ph.merge(pp, hp, dark, saturation)
    inside = zmap >= 0
    # nothing may sit on a threshold
    assert mw > 1e-6 and ms > 1e-7, (mw, ms)
    for z in zones:
        assert abs(z.n - 0.5 * z.expected) > 1e-3
        assert z.n == 0 or abs(z.black - 0.05 * z.n) > 1e-3, z
    for p in pc + pp:
        assert abs(p.raw - saturation * p.full).min() > 1e-7 * p.full
    out = {
        "case": name, "about": about, "kind": pc[0].kind, "columns": shape[1], "rows": shape[0], "channels": shape[2],
        "crossed": crossed, "parallel": parallel, "exposure_s": None if from_exif else hc,
        "exposure_parallel_s": None if from_exif else hp, "exposure_from_exif": from_exif, "H_crossed": hc,
        "H_parallel": hp, "center_x": centre[0], "center_y": centre[1], "radius": radius, "rings": rings,
        "sectors": sectors, "dark_counts": dark, "saturation": saturation, "flip": flip, "turn_deg": turn,
        "accept_curves": curves,
        "border_margin": {"ring": mw, "sector": ms},
        "pictures": {f: ph.tallies(p, disc, saturation) for f, p in zip(crossed + parallel, pc + pp)},
        "saturated_in_all_exposures": {
            "crossed": int((~ec).sum()), "parallel": int((~ep).sum()), "either": int((~(ec & ep)).sum()),
            "crossed_in_disc": int((~ec & inside).sum()), "parallel_in_disc": int((~ep & inside).sum()),
            "either_in_disc": int((~(ec & ep) & inside).sum())},
        "expected_pixels": zones[0].expected,
        "zones": [{"channel": z.channel, "zone": z.zone, "ring": z.ring, "sector": z.sector, "pixels": z.pixels, "n": z.n,
                   "black_longest_crossed": z.black, "crossed": z.crossed, "parallel": z.parallel, "ratio": z.ratio,
                   "rel_error": z.rel_error, "s_crossed": z.s_crossed, "s_parallel": z.s_parallel,
                   "quantised": z.quantised, "left_out": z.left_out} for z in zones],
    }
    with open(os.path.join(HERE, name + ".json"), "w") as f:
        json.dump(out, f, indent=1)
        f.write("\n")
    why = {}
    for z in zones:
        why[z.left_out] = why.get(z.left_out, 0) + 1
    print(name, why, "quantised", sum(z.quantised for z in zones), "margins %.1e %.1e" % (mw, ms),
          out["saturated_in_all_exposures"]["either_in_disc"], "sat.",
          "errors %.4f..%.4f" % (min(z.rel_error for z in zones if z.rel_error), max(z.rel_error or 0 for z in zones)))


def main():
    os.makedirs(HERE, exist_ok=True)
    for f in os.listdir(HERE):
        os.remove(os.path.join(HERE, f))

    # 1. grey 16-bit PNG of a 12-bit camera, black level, one exposure each, 5 x 16, some saturated and some dead pixels
    c, r, size = (74.313, 65.827), 58.211, (150, 130)
    k = dict(full_well=12000, read_noise=4.0, bits=12, vignetting=0.2, centre=c, radius=r, turn=0.0, flip=False, size=size,
             offset=12.0)
    a = to16(render(cross_light(0.004, 0.020), 10.0, seed=101, **k), 12)
    b = to16(render(parallel_light(0.6), 1.0, seed=102, **k), 12)
    save_png("plain-crossed.png", spots(a, 103, 25, 12, 65535, c, r))
    save_png("plain-parallel.png", spots(b, 104, 15, 0, 65535, c, r))
    finish("plain", "12-bit counts at the top of 16 bits, black level 192 counts", ["plain-crossed.png"],
           ["plain-parallel.png"], [10.0], [1.0], c, r, 5, 16, dark=192)

    # 2. three crossed exposures and two parallel ones, long ones saturate
    c, r, size = (60.277, 51.631), 47.119, (121, 104)
    k = dict(full_well=9000, read_noise=5.0, bits=12, vignetting=0.1, centre=c, radius=r, turn=0.0, flip=False, size=size,
             offset=20.0)
    names = []
    for n, h in enumerate((0.25, 2.0, 16.0)):
        names.append("merged-crossed-%d.png" % n)
        save_png(names[-1], spots(to16(render(cross_light(0.01, 0.15), h, seed=210 + n, **k), 12), 220 + n, 20, 5, 65535, c, r))
    pn = []
    for n, h in enumerate((0.02, 0.05)):
        pn.append("merged-parallel-%d.png" % n)
        save_png(pn[-1], spots(to16(render(parallel_light(21.0), h, seed=230 + n, **k), 12), 240, 12, 0, 65535, c, r))
    finish("merged", "exposures joined; the longest crossed one saturates in the lobes, the longer parallel one in places; "
           "12 pixels saturated in both parallel ones", names, pn, [0.25, 2.0, 16.0], [0.02, 0.05], c, r, 3, 8, dark=320)

    # 3. disc partly cut, flipped and turned, unlike pattern in every quarter
    c, r, size = (41.713, 48.289), 62.357, (118, 98)
    k = dict(full_well=15000, read_noise=3.0, bits=12, vignetting=0.25, centre=c, radius=r, turn=33.7, flip=True, size=size,
             offset=8.0)
    uneven = lambda rho, az: 0.005 + 0.05 * rho ** 2 * (1 + np.sin(az + 0.3)) + 0.03 * (az / (2 * np.pi))
    save_png("cut-crossed.png", to16(render(uneven, 4.0, seed=301, **k), 12))
    save_png("cut-parallel.png", to16(render(parallel_light(0.7), 1.0, seed=302, **k), 12))
    finish("cut", "disc cut at left, top and bottom; mirrored and turned by 33.7 degrees", ["cut-crossed.png"],
           ["cut-parallel.png"], [4.0], [1.0], c, r, 5, 16, dark=128, flip=True, turn=33.7)

    # 4. RGB, 16 bit PNG; blue goes black in the middle; single channels saturate; turned, not flipped
    c, r, size = (49.137, 43.871), 40.153, (99, 88)
    planes_c, planes_p = [], []
    for ch, (g, gp) in enumerate(((1.0, 0.8), (0.8, 1.0), (0.03, 0.35))):
        k = dict(full_well=8000, read_noise=3.0, bits=10, vignetting=0.15, centre=c, radius=r, turn=-71.3, flip=False, size=size)
        f = cross_light(0.003, 0.1, 12.0)
        planes_c.append(to16(render(lambda rho, az: g * f(rho, az), 8.0, seed=400 + ch, **k), 10))
        h = parallel_light(0.8)
        planes_p.append(to16(render(lambda rho, az: gp * h(rho, az), 1.0, seed=410 + ch, **k), 10))
    a, b = np.stack(planes_c, 2), np.stack(planes_p, 2)
    for ch in range(3):
        a[:, :, ch] = spots(a[:, :, ch].copy(), 420 + ch, 8, 4, 65535, c, r)
    save_png("rgb-crossed.png", a)
    save_png("rgb-parallel.png", b)
    finish("rgb", "three channels; a pixel saturated in one channel counts in none; blue too dark in places",
           ["rgb-crossed.png"], ["rgb-parallel.png"], [8.0], [1.0], c, r, 3, 8, turn=-71.3)

    # 5. 32-bit float TIFF, values over 1 and below 0 kept
    c, r, size = (48.419, 41.263), 38.571, (97, 83)
    k = dict(full_well=20000, read_noise=60.0, bits=0, vignetting=0.1, centre=c, radius=r, turn=0, flip=True, size=size)
    a = render(cross_light(0.0006, 0.03, 30.0), 6.0, seed=501, **k).astype(np.float32)
    b = render(parallel_light(0.9), 1.0, seed=502, **k).astype(np.float32)
    a = spots(a, 503, 10, 6, 1.25, c, r)
    save_tiff("float-crossed.tif", a)
    save_tiff("float-parallel.tif", b)
    finish("float", "values as they are, some negative, some over 1; parallel partly over 0.9", ["float-crossed.tif"],
           ["float-parallel.tif"], [6.0], [1.0], c, r, 3, 8, saturation=0.9, flip=True)

    # 6. 16-bit TIFF; too dark in the middle (black pixels), no light where the dark count is larger than the light
    c, r, size = (57.871, 50.219), 46.607, (116, 101)
    k = dict(full_well=10000, read_noise=12.0, bits=12, vignetting=0.1, centre=c, radius=r, turn=0, flip=False, size=size)
    lop = lambda rho, az: 1e-4 * (1 + np.cos(az)) + 0.02 * rho ** 4 * np.sin(2 * az - 0.2) ** 2 + 0.0016 * (rho ** 2 > 0.42)
    a = to16(render(lop, 2.0, seed=601, offset=0.0, **k), 12)
    bright = render(parallel_light(0.5), 1.0, seed=602, offset=0.0, **k)
    save_tiff("dark-crossed.tif", a)
    save_tiff("dark-parallel.tif", to16(bright, 12))
    finish("dark", "black pixels in the middle (too dark), dark count higher than the light in places (no light)",
           ["dark-crossed.tif"], ["dark-parallel.tif"], [2.0], [1.0], c, r, 5, 16, dark=230)

    # 7. 8-bit PNG through the sRGB curve
    c, r, size = (74.713, 64.871), 60.329, (150, 130)
    k = dict(full_well=1500, read_noise=6.0, bits=0, vignetting=0.1, centre=c, radius=r, turn=15.9, flip=False, size=size)

    def curve(v):
        v = np.clip(v, 0, 1)
        s = np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)
        return np.floor(255 * s + 0.5).astype(np.uint8)
    save_png("curve-crossed.png", curve(render(cross_light(0.012, 0.05, 8.0), 5.0, seed=701, **k)))
    save_png("curve-parallel.png", curve(render(parallel_light(0.85), 1.0, seed=702, **k)))
    finish("curve", "8-bit, sRGB; needs curves accepted", ["curve-crossed.png"], ["curve-parallel.png"], [5.0], [1.0], c, r, 5,
           16, turn=15.9, curves=True)

    # 8. EXIF exposures (PNG eXIf chunk), nearly no noise: steps of one 16-bit count rule the dark middle
    c, r, size = (68.341, 59.773), 53.917, (137, 120)
    k = dict(full_well=1e9, read_noise=0.0, bits=16, vignetting=0.0, centre=c, radius=r, turn=0, flip=False, size=size)
    a = render(cross_light(4.2e-5, 6e-4, 3.0), 1.0, seed=801, **k)
    b = render(parallel_light(0.05), 1.0, seed=802, **k)
    save_png("exif-crossed.png", a, ph.exif_block((1, 2), 400, (28, 10)))
    save_png("exif-parallel.png", b, ph.exif_block((1, 500), None, (28, 10)))
    finish("exif", "exposures from EXIF: 1/2 s ISO 400 f/2.8 crossed, 1/500 s without ISO f/2.8 parallel; steps of a count rule "
           "the error in the middle", ["exif-crossed.png"], ["exif-parallel.png"], None, None, c, r, 3, 8, from_exif=True)

    # points of an ellipse: no picture
    rng = np.random.default_rng(9)
    d = ph.Disc(70.31, 61.77, 50.2, 49.1, math.radians(27.3))
    pts = []
    for flip, turn in ((False, 0.0), (True, 0.0), (False, 40.1), (True, -123.4)):
        for _ in range(10):
            x, y = rng.integers(12, 128) + 0.5, rng.integers(5, 118) + 0.5
            rho, az = ph.rho_azimuth(d, x, y, flip, turn)
            pts.append({"x": x, "y": y, "flip": flip, "turn_deg": turn, "rho": float(rho), "azimuth_rad": float(az),
                        "zone_5x16": int(ph.zone_of(rho, az, 5, 16)), "zone_3x8": int(ph.zone_of(rho, az, 3, 8))})
    with open(os.path.join(HERE, "ellipse-points.json"), "w") as f:
        json.dump({"cx": d.cx, "cy": d.cy, "a": d.a, "b": d.b, "t_deg": 27.3, "points": pts}, f, indent=1)
        f.write("\n")
    pics = sum(os.path.getsize(os.path.join(HERE, f)) for f in os.listdir(HERE) if not f.endswith(".json"))
    js = sum(os.path.getsize(os.path.join(HERE, f)) for f in os.listdir(HERE) if f.endswith(".json"))
    print("pictures", pics, "bytes; json", js)


if __name__ == "__main__":
    sys.exit(main())
