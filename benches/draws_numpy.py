"""The study of `benches/draws.rs` in NumPy at its best: light at the nodes, matrix products, a block of draws at a time.

    python3 draws_numpy.py NODES.json DRAWS

`benches/draws.rs` writes the light at the nodes and reads the line of JSON that comes out: NumPy's version, extinction ratios at
the values asked for, and for one and for two threads the best time in seconds with the draws in a block that gave it. With 0
draws nothing is timed.
"""

import json
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import numpy as np

BLOCKS = (250, 500, 1000, 2000, 4000)
RESAMPLES = 400
TARGET = 1000.0


def solved(light, k, node_nm):
    """From light at 0, G and -G to what c^2, s^2 and 2 c s multiply; the strain's axis first."""
    c, s = np.cos(k * node_nm), np.sin(k * node_nm)
    t11 = light[0]
    t22 = (0.5 * (light[1] + light[2]) - c * c * t11) / (s * s)
    t12 = (light[1] - light[2]) / (4.0 * c * s)
    return np.stack([t11, t22, t12])


class Study:
    def __init__(self, raw):
        self.k = np.pi / np.array(raw["wavelengths_nm"])
        self.luminous = np.array(raw["luminous"])
        self.written = raw["written"]
        count = len(self.k)
        light = np.array(raw["light"]).reshape(3, 3, 3, 3, count)
        for axis in (1, 2):
            light = np.moveaxis(solved(np.moveaxis(light, axis, 0), self.k, raw["node_nm"]), 0, axis)
        # [lower polar, analyzer] by [condenser, objective, wavelength], so that azimuths are one matrix product.
        self.table = np.ascontiguousarray(light.transpose(0, 3, 1, 2, 4)).reshape(9, 9 * count)

    def turns(self, azimuth, written):
        """Weights of the three azimuths, without cancellation near the first."""
        sin, cos = np.sin(azimuth - written), np.cos(azimuth - written)
        square, product = sin * sin, np.sqrt(3.0) * sin * cos
        return np.stack([1.0 - 4.0 / 3.0 * square, 2.0 / 3.0 * (square + product), 2.0 / 3.0 * (square - product)], 1)

    def products(self, amount):
        x = amount[:, None] * self.k
        c, s = np.cos(x), np.sin(x)
        return np.stack([c * c, s * s, 2.0 * c * s], 1)

    def ratios(self, values):
        count = len(values)
        low = self.turns(values[:, 0], self.written[0])
        below, above = self.products(values[:, 1]), self.products(values[:, 2])
        # Lamp and observer go with the condenser's weights.
        below = below * self.luminous

        def luminance(analyzer):
            high = self.turns(analyzer, self.written[3])
            azimuths = (low[:, :, None] * high[:, None, :]).reshape(count, 9)
            light = (azimuths @ self.table).reshape(count, 3, 3, -1)
            return np.einsum("diw,diw->d", below, np.einsum("djw,dijw->diw", above, light))

        return luminance(values[:, 0]) / luminance(values[:, 3])

    def in_blocks(self, values, block, run):
        parts = [values[start : start + block] for start in range(0, len(values), block)]
        return np.concatenate(list(run(self.ratios, parts)))

    def draw(self, rng, rows):
        w = self.written
        return np.stack(
            [
                rng.normal(w[0], np.radians(0.5), rows),
                rng.normal(w[1], 1.0, rows),
                rng.uniform(w[2] - 1.0, w[2] + 1.0, rows),
                rng.normal(w[3], np.radians(0.5), rows),
            ],
            1,
        )

    def whole(self, draws, block, run):
        """Yield, percentiles, and Sobol indices with their bootstrap."""
        rng = np.random.default_rng(1)
        rows = draws // 2
        a, b = self.draw(rng, rows), self.draw(rng, rows)
        samples = [a, b]
        for number in range(4):
            samples.append(a.copy())
            samples[-1][:, number] = b[:, number]
        ratios = self.in_blocks(np.concatenate(samples), block, run)
        both = ratios[: 2 * rows]
        answer = [np.mean(both >= TARGET), np.percentile(both, [5, 10, 25, 50, 75, 90, 95])]
        f_a, f_b, *mixed = np.log10(ratios).reshape(-1, rows) - np.mean(np.log10(both))
        columns = [f_a + f_b, f_a * f_a + f_b * f_b]
        for f in mixed:
            columns += [f_b * (f - f_a), 0.5 * (f_a - f) ** 2]
        sums = np.stack(columns, 1)

        def indices(total):
            return total[2:] / (0.5 * total[1] - (0.5 * total[0]) ** 2 / rows)

        def resampled(seed):
            picked = np.random.default_rng(seed).integers(0, rows, rows, dtype=np.int32)
            return indices(np.bincount(picked, minlength=rows) @ sums)

        answer.append(indices(sums.sum(0)))
        answer.append(np.percentile(list(run(resampled, range(RESAMPLES))), [2.5, 97.5], axis=0))
        return answer


def best(study, draws, run):
    found = (float("inf"), 0)
    for block in BLOCKS:
        start = time.perf_counter()
        study.whole(draws, block, run)
        found = min(found, (time.perf_counter() - start, block))
    return found


def main():
    with open(sys.argv[1], encoding="utf-8") as file:
        raw = json.load(file)
    study = Study(raw)
    draws = int(sys.argv[2])
    answer = {
        "numpy": np.__version__,
        "ratios": study.ratios(np.array(raw["compared"])).tolist(),
        "one": (0.0, 0),
        "two": (0.0, 0),
    }
    if draws:
        with ThreadPoolExecutor(2) as two:
            answer["one"] = best(study, draws, map)
            answer["two"] = best(study, draws, two.map)
    print(json.dumps(answer))


main()
