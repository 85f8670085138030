"""Whether fit.json is what the scripts give, in half a minute: the ratios of the stands drawn from the prior once more, exactly, and for two benches one short
ensemble, whose means must lie within six of its own Monte Carlo errors of those that are kept.

    python check_fit.py
"""
import json
import math

import numpy as np

from make_fit import HERE, Problem, ensemble, error_of_mean, prior_draws

STEPS, THIN, ERRORS = 900, 5, 6.0


def check_draws(name, kept):
    made = prior_draws(Problem(name))["draws"]
    for old, new in zip(kept["prior_draws"]["draws"], made, strict=True):
        difference = np.max(np.abs(np.array(new["ratios"]) / np.array(old["ratios"]) - 1))
        assert difference < 1e-9, f"bench {name}: ratios of a draw differ by {difference:.1e}"


def check_means(name, kept):
    chain, _, _ = ensemble((name, 99, STEPS, THIN))
    for i, told in enumerate(kept["sampled"]):
        series = chain[None, :, :, i]
        # One ensemble has no scatter of its own: the error is that by its autocorrelation time.
        _, size = error_of_mean(np.concatenate([series, series]))
        error = series.std() / math.sqrt(size / 2)
        posterior = told["posterior"]
        off = abs(series.mean() - posterior["mean"]) / math.hypot(error, posterior["monte_carlo_error"]["mean"])
        assert off < ERRORS, f"bench {name}, {told['name']}: {off:.1f} errors off"


def main():
    kept = json.loads((HERE / "fit.json").read_text())["benches"]
    for name, bench in kept.items():
        check_draws(name, bench)
    for name in ("a", "c"):
        check_means(name, kept[name])
    print("fit.json: the draws' ratios come out the same, the means of short ensembles agree")


if __name__ == "__main__":
    main()
