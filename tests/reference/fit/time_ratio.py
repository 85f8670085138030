"""How long the program and emcee on the NumPy model take for the same posterior, per effective draw, one after the other on one thread.

    python time_ratio.py POLSTACK [BENCH]

The effective sample size is the smallest over the sampled numbers. Of emcee's it is told by the autocorrelation time of one ensemble, burning included in the time; of the program's by
the scatter of the posterior means over seeds: posterior variance over the variance of the mean. It reads no polynomials from an earlier run: each seed makes its own.
"""
import json
import os
import subprocess
import sys
import time

import numpy as np

from make_fit import HERE, STEPS, WALKERS, ensemble, time_of

SEEDS, DRAWS, THIN = range(1, 17), 4000, 5


def emcee_seconds_per_draw(name):
    started = time.process_time()
    chain, _, _ = ensemble((name, 7, STEPS[name], THIN))
    seconds = time.process_time() - started
    sizes = [chain[..., 0].size / max(time_of(chain[None, :, :, i]), 1.0) for i in range(chain.shape[-1])]
    print(f"emcee: {seconds:.1f} s for {WALKERS} walkers and {STEPS[name]} steps, {min(sizes):.0f} effective draws")
    return seconds / min(sizes)


def program_seconds_per_draw(program, name):
    kept = json.loads((HERE / "fit.json").read_text())["benches"][name]
    command = [program, "fit", HERE / kept["scenario"], HERE / kept["readings"], "--json", "--quiet", "--draws", str(DRAWS)]
    for free in kept["free"]:
        command += ["--unknown", free]
    means, sds, blame = [], [], []
    before = os.times().children_user
    for seed in SEEDS:
        run = subprocess.run([*command, "--seed", str(seed)], capture_output=True, text=True, check=True, env={**os.environ, "RAYON_NUM_THREADS": "1"})
        answer = json.loads(run.stdout)
        straight = [u for u in answer["unknown"] if not u["name"].endswith("uniform.azimuth_deg")]
        means.append([u["posterior"]["mean"] for u in straight])
        sds.append([u["posterior"]["sd"] for u in straight])
        blame.append({(b["part"], b["cause"]): b["largest"] for b in answer["blame"]})
    seconds = (os.times().children_user - before) / len(SEEDS)
    sizes = np.mean(np.square(sds), axis=0) / np.var(means, axis=0, ddof=1)
    spread = max(np.ptp([one.get(key, 0.0) for one in blame]) for key in blame[0])
    print(f"program: {seconds:.2f} s a fit of {DRAWS} draws, {min(sizes):.0f} effective draws; blame differs by at most {spread:.3f} among {len(SEEDS)} seeds")
    return seconds / min(sizes)


def main():
    program, name = sys.argv[1], sys.argv[2] if len(sys.argv) > 2 else "b"
    ratio = emcee_seconds_per_draw(name) / program_seconds_per_draw(program, name)
    print(f"bench {name}: emcee on the NumPy model takes {ratio:.1f} times as long for an effective draw")


if __name__ == "__main__":
    main()
