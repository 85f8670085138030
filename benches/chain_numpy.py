"""The kernel's job in NumPy at its best: entrywise complex arrays, a few thousand chains at a time.

    python3 chain_numpy.py TABLES.json REPEATS

`benches/kernel.rs` writes the tables (everything that does not depend on both ray and wavelength, as for the other
contenders) and reads the line of JSON that comes out: NumPy's version, and for one and for two threads the best time in
nanoseconds a chain with the number of rays in a block that gave it, and the mean coherency matrix at each wavelength.
"""

import json
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np

BLOCKS = (4, 8, 16, 32, 64)


def linear(along, across, c, s):
    """Entries (xx, xy, yy) of a symmetric Jones matrix from its two modes."""
    mean, half = 0.5 * (along + across), 0.5 * (along - across)
    return mean + half * c, half * s, mean - half * c


def retarder(strain, rays, k):
    """The same for a retarder: path difference of each ray times pi / wavelength."""
    half_phase = strain[rays, 0, None] * k
    cos, sin = np.cos(half_phase), np.sin(half_phase)
    along = cos + 1j * (sin * strain[rays, 1, None])
    return along, 1j * (sin * strain[rays, 2, None]), along.conj()


def cross(part, light):
    """One part, applied to both columns of the Jones matrix so far."""
    a, b, d = part
    xx, xy, yx, yy = light
    return a * xx + b * yx, a * xy + b * yy, b * xx + d * yx, b * xy + d * yy


def power(z):
    return z.real * z.real + z.imag * z.imag


def block_sum(t, ring, spokes):
    """Weighted sum of the coherency matrix over some spokes of a ring."""
    k = t["half_wavenumber"]
    first = ring * len(t["spokes"])
    rays = slice(first + spokes.start, first + spokes.stop)
    c, s = (t["spokes"][spokes, number, None] for number in (0, 1))
    condenser, objective = (linear(h[ring, :, 0], h[ring, :, 1], c, s) for h in t["halves"])
    strain = t["strains"]
    a, b, d = t["lower"]
    light = (a, b, b, d)
    for part in (
        condenser,
        retarder(strain[0], rays, k),
        retarder(strain[1], rays, k),
        condenser,
        objective,
        retarder(strain[2], rays, k),
        retarder(strain[3], rays, k),
        objective,
        t["analyzer"],
    ):
        light = cross(part, light)
    xx, xy, yx, yy = light
    weight = 0.5 * t["ring_weight"][ring] * t["spoke_weight"][spokes]
    off = xx * yx.conj() + xy * yy.conj()
    lights = (power(xx) + power(xy), power(yx) + power(yy), off.real, off.imag)
    return np.array([weight @ light for light in lights])


def mean_coherency(t, rays_in_block, run):
    count = len(t["spokes"])
    blocks = [
        (ring, slice(start, min(start + rays_in_block, count)))
        for ring in range(len(t["ring_weight"]))
        for start in range(0, count, rays_in_block)
    ]
    return sum(run(lambda block: block_sum(t, *block), blocks))


def read(path):
    with open(path, encoding="utf-8") as file:
        raw = json.load(file)
    t = {name: np.array(raw[name]) for name in ("half_wavenumber", "spokes", "ring_weight", "spoke_weight")}
    t["strains"] = [np.array(strain) for strain in raw["strains"]]
    # [ring, wavelength, p or s]
    t["halves"] = [np.array(half).view(complex) for half in raw["halves"]]
    for name, sheet in zip(("lower", "analyzer"), raw["sheets"]):
        amplitudes = np.array(sheet["amplitudes"], dtype=complex)
        t[name] = linear(amplitudes[:, 0], amplitudes[:, 1], *sheet["axis"])
    return t


def best(t, repeats, run):
    chains = len(t["half_wavenumber"]) * len(t["spokes"]) * len(t["ring_weight"])
    found = (float("inf"), 0)
    for _ in range(repeats):
        for rays_in_block in BLOCKS:
            start = time.perf_counter()
            mean_coherency(t, rays_in_block, run)
            found = min(found, ((time.perf_counter() - start) * 1e9 / chains, rays_in_block))
    return found


def main():
    t = read(sys.argv[1])
    repeats = int(sys.argv[2])
    with ThreadPoolExecutor(2) as two:
        answer = {
            "numpy": np.__version__,
            "one": best(t, repeats, map),
            "two": best(t, repeats, two.map),
            "coherency": mean_coherency(t, BLOCKS[0], map).T.tolist(),
        }
    print(json.dumps(answer))


main()
