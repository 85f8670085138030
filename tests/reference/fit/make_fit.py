"""Posteriors of the unknowns of each bench, by an ensemble sampler (emcee) on the independent model.

    python make_fit.py [a b c] [--steps N]      # writes fit.json; with bench names only those are made again

Every bench is sampled by eight ensembles that know nothing of each other, each started from prior draws.
"""
import argparse
import csv
import json
import math
import os
import time
import warnings
from multiprocessing import Pool

for variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(variable, "1")
warnings.filterwarnings("ignore", message=".*related API features are not available.*")

import emcee                                                        # noqa: E402
import numpy as np                                                  # noqa: E402
import scipy                                                        # noqa: E402
from scipy import stats                                             # noqa: E402
from scipy.cluster.vq import kmeans2                                # noqa: E402
from stand import AZIMUTHS, HERE, NODES, PHYSICAL, Bench, Setting, part, read, slow_ratio, written   # noqa: E402

MODEL_ERROR = 0.02
ENSEMBLES, WALKERS, PROCESSES, BURNT = 8, 128, 2, 0.3
HOPELESS = 30.0                    # of ln posterior below the ensemble's median: weight e^-30
FACTOR = 1.645                     # "90 % within a factor F": sigma = ln F / 1.645
QUANTILES = (0.05, 0.5, 0.95)
STEPS = {"a": 4000, "b": 4000, "c": 4000}

# What is sampled, of PHYSICAL; all else is held as the file says.
SAMPLED = {
    "a": ["condenser.radial.edge_nm", "objective.uniform.cos_nm", "objective.uniform.sin_nm",
          "lower polar.k2", "analyzer.azimuth_deg", "stray.fraction"],
    "b": ["condenser.radial.edge_nm", "objective.uniform.cos_nm", "objective.uniform.sin_nm", "objective.radial.edge_nm",
          "lower polar.k2", "analyzer.azimuth_deg", "stray.fraction"],
    "c": ["condenser.uniform.cos_nm", "condenser.uniform.sin_nm", "objective.uniform.cos_nm", "objective.uniform.sin_nm",
          "stray.fraction"],
}
# Proposals that change the sign of these together (of the analyzer: of what it is off). Each is its own inverse and
# keeps volumes, so it is a Metropolis proposal like any other; the readings tell such signs badly or not at all.
FLIPS = {
    "a": [["condenser.radial.edge_nm"], ["objective.uniform.cos_nm"], ["objective.uniform.sin_nm"], ["analyzer.azimuth_deg"]],
    "b": [["condenser.radial.edge_nm", "objective.radial.edge_nm"], ["objective.uniform.cos_nm"], ["objective.uniform.sin_nm"]],
    "c": [["condenser.uniform.cos_nm"], ["condenser.uniform.sin_nm", "objective.uniform.cos_nm", "objective.uniform.sin_nm"]],
}
# Modes, told by signs of combinations of what is sampled.
MODES = {
    "a": {"condenser.radial.edge_nm": {"condenser.radial.edge_nm": 1}, "objective.uniform.sin_nm": {"objective.uniform.sin_nm": 1}},
    "b": {"condenser.radial.edge_nm / 0.9^2 + objective.radial.edge_nm / 0.65^2":
          {"condenser.radial.edge_nm": 0.9**-2, "objective.radial.edge_nm": 0.65**-2},
          "objective.uniform.cos_nm": {"objective.uniform.cos_nm": 1}, "objective.uniform.sin_nm": {"objective.uniform.sin_nm": 1}},
    "c": {"condenser.uniform.sin_nm - objective.uniform.sin_nm":
          {"condenser.uniform.sin_nm": 1, "objective.uniform.sin_nm": -1}},
}


def is_logarithm(name):
    return name.endswith((".k2", ".fraction"))


def read_readings(path):
    """ln ratio, sd of ln ratio, settings."""
    logarithms, errors, settings = [], [], []
    for row in csv.DictReader(path.open(newline="")):
        cell = lambda name, default: float(row[name]) if row.get(name) else default   # noqa: E731
        ratio = cell("ratio", None) or cell("parallel", None) / cell("reading", None)
        logarithms.append(math.log(ratio))
        errors.append(math.hypot(cell("error_percent", 5.0) / 100, MODEL_ERROR))
        settings.append(Setting(cell("na", None), cell("analyzer_deg", 90.0), cell("turn:objective", 0.0), row.get("out") or ""))
    return np.array(logarithms), np.array(errors), settings


class Problem:
    def __init__(self, name):
        self.name = name
        self.scenario = read(HERE / f"bench-{name}.toml")
        self.file = written(self.scenario)
        self.names = SAMPLED[name]
        self.read, self.error, self.settings = read_readings(HERE / f"bench-{name}.csv")
        self.bench = Bench(self.scenario, self.settings)
        self.mean, self.sd = np.array([self.prior(n) for n in self.names]).T

    def prior(self, name):
        """Mean and sd of a normal prior of what is sampled."""
        at = self.file[name]
        if name.endswith("edge_nm"):
            return at, max(at, 20.0 if name.startswith("condenser") else 5.0)
        if ".uniform." in name:
            return at, 5.0
        if name.endswith(".k2"):
            return math.log(at), math.log(2) / FACTOR
        if name.endswith(".fraction"):
            return math.log(at), math.log(3 if "stray" in self.scenario else 12) / FACTOR
        return at, 1.0

    def physical(self, theta):
        values = np.tile([self.file[n] for n in PHYSICAL], (len(theta), 1))
        for i, name in enumerate(self.names):
            values[:, PHYSICAL.index(name)] = np.exp(theta[:, i]) if is_logarithm(name) else theta[:, i]
        return values

    def draw(self, generator, count):
        return self.mean + self.sd * generator.standard_normal((count, len(self.names)))

    def log_prior(self, theta):
        return stats.norm.logpdf(theta, self.mean, self.sd).sum(axis=1)

    def log_likelihood(self, theta):
        """Of ln ratio: a density with its constant, so that the evidence is one too."""
        return stats.norm.logpdf(self.read, np.log(self.bench.ratios(self.physical(theta))), self.error).sum(axis=1)

    def log_posterior(self, theta):
        result = self.log_prior(theta)
        inside = np.all(np.abs(theta - self.mean) < 12 * self.sd, axis=1)        # far proposals are hopeless and may overflow
        if inside.any():
            result[inside] += self.log_likelihood(theta[inside])
        result[~inside] = -np.inf
        return result

    def flip(self, coordinates, random):
        """Change the signs of one group, or of several."""
        groups = [[self.names.index(n) for n in group] for group in FLIPS[self.name]]
        chosen = random.rand(len(coordinates), len(groups)) < 1.5 / len(groups)
        result = coordinates.copy()
        for g, group in enumerate(groups):
            for i in group:
                zero = 90.0 if self.names[i] == "analyzer.azimuth_deg" else 0.0
                result[chosen[:, g], i] = 2 * zero - result[chosen[:, g], i]
        return result, np.zeros(len(coordinates))


def ensemble(task):
    """One ensemble's chain, (kept steps, walkers, parameters)."""
    name, number, steps, thin = task
    problem = Problem(name)
    random = np.random.RandomState(1000 * ord(name) + number)
    start = problem.draw(np.random.default_rng([ord(name), number]), WALKERS)
    # No snooker move: in emcee 3.1.6 its direction is divided by the root of its length and its factor has half the exponent.
    moves = [(emcee.moves.DEMove(), 0.25), (emcee.moves.DEMove(gamma0=0.25), 0.2), (emcee.moves.DEMove(gamma0=1.0), 0.15),
             (emcee.moves.StretchMove(), 0.15), (emcee.moves.MHMove(problem.flip), 0.25)]
    sampler = emcee.EnsembleSampler(WALKERS, start.shape[1], problem.log_posterior, moves=moves, vectorize=True)
    burnt = int(BURNT * steps)
    state = sampler.run_mcmc(emcee.State(start, random_state=random.get_state()), burnt // 2, store=False)
    # A walker alone in a hollow of no weight gets no difference that leads out of it. It is put where another one is, which the
    # second half of the burnt steps forgets again.
    logs, coordinates = state.log_prob.copy(), state.coords.copy()
    alone = logs < np.median(logs) - HOPELESS
    chosen = np.random.default_rng([ord(name), number, 1]).choice(np.flatnonzero(~alone), alone.sum())
    coordinates[alone] = coordinates[chosen]
    state = emcee.State(coordinates, random_state=state.random_state)
    state = sampler.run_mcmc(state, burnt - burnt // 2, store=False)
    sampler.reset()
    sampler.run_mcmc(state, (steps - burnt) // thin, thin_by=thin)
    return sampler.get_chain(), float(np.mean(sampler.acceptance_fraction)), int(alone.sum())


# ----------------------------------------------------------------------------------------------
# Summaries. A series has the axes (ensembles, kept steps, walkers).
# ----------------------------------------------------------------------------------------------
def time_of(series, window=5.0):
    """Integrated autocorrelation time in kept steps: covariances about the mean of all, averaged over walkers and ensembles, summed
    to the first lag of five times the sum (Sokal)."""
    away = series - series.mean()
    steps = series.shape[1]
    transform = np.fft.rfft(away, n=2 * steps, axis=1)
    covariance = np.fft.irfft(np.mean(np.abs(transform) ** 2, axis=(0, 2)))[:steps] / (steps - np.arange(steps))
    sums = 2 * np.cumsum(covariance / covariance[0]) - 1
    found = np.arange(steps) >= window * sums
    return float(sums[np.argmax(found)] if found.any() else sums[-1])


def error_of_mean(series):
    """Monte Carlo error of the mean: the larger of that by the autocorrelation time and that by the ensembles' scatter."""
    tau = max(time_of(series), 1.0)
    by_time = series.std() * math.sqrt(tau / series.size)
    by_scatter = series.mean(axis=(1, 2)).std(ddof=1) / math.sqrt(len(series))
    return max(by_time, by_scatter), series.size / tau


def rounded(x, digits=7):
    if isinstance(x, dict):
        return {k: rounded(v, digits) for k, v in x.items()}
    if isinstance(x, (list, tuple, np.ndarray)):
        return [rounded(v, digits) for v in x]
    if isinstance(x, (float, np.floating)):
        return float(f"{x:.{digits}g}")
    return x


def summary(series):
    mean, sd = series.mean(), series.std()
    mean_error, size = error_of_mean(series)
    sd_error, sd_size = error_of_mean(((series - mean) ** 2 - sd**2) / (2 * sd))
    low, median, high = np.quantile(series, QUANTILES)
    scatter = np.array([np.quantile(one, QUANTILES) for one in series]).std(axis=0, ddof=1) / math.sqrt(len(series))
    return {"mean": mean, "sd": sd, "low": low, "median": median, "high": high,
            "monte_carlo_error": dict(zip(("mean", "sd", "low", "median", "high"), (mean_error, sd_error, *scatter))),
            "effective_sample_size": size, "effective_sample_size_of_sd": sd_size}


def circular(azimuth_deg):
    """Of slow directions, period 180 degrees: mean direction, length of the mean of exp(2i a), deviations from the mean."""
    vector = np.mean(np.exp(2j * np.radians(azimuth_deg)))
    center = math.degrees(np.angle(vector)) / 2 % 180
    return center, abs(vector), (azimuth_deg - center + 90) % 180 - 90


def circular_summary(azimuth_deg):
    center, length, away = circular(azimuth_deg)
    result = summary(away)
    for key in ("low", "median", "high"):
        result[key] += center
    result["mean"] = center
    return {"mean_direction": center, "resultant_length": length} | result


def unknowns(problem, chains):
    """By the names of the interface. chains: (ensembles, steps, walkers, parameters)."""
    series = {n: chains[..., i] for i, n in enumerate(problem.names)}
    generator = np.random.default_rng(3)
    result, columns = [], {}
    for name, values in series.items():
        mean, sd = problem.prior(name)
        if name.endswith("cos_nm"):
            lens = name.removesuffix("cos_nm")
            c, s = values, series[lens + "sin_nm"]
            center = np.array([problem.file[lens + "cos_nm"], problem.file[lens + "sin_nm"]])
            rice = stats.rice(math.hypot(*center) / sd, scale=sd)
            columns[lens + "path_difference_nm"] = np.hypot(c, s)
            result.append({"name": lens + "path_difference_nm", "unit": "nm",
                           "prior": dict(zip(("low", "median", "high"), rice.ppf(QUANTILES))) | {"mean": rice.mean(), "sd": rice.std()},
                           "posterior": summary(columns[lens + "path_difference_nm"])})
            x, y = center[:, None] + sd * generator.standard_normal((2, 4_000_000))
            direction, length, away = circular(np.degrees(np.arctan2(y, x)) / 2)
            result.append({"name": lens + "azimuth_deg", "unit": "deg", "circular": "period 180; low, median, high: about the mean direction",
                           "prior": dict(zip(("low", "median", "high"), direction + np.quantile(away, QUANTILES)))
                           | {"mean_direction": direction, "resultant_length": length},
                           "posterior": circular_summary(np.degrees(np.arctan2(s, c)) / 2)})
        elif name.endswith("sin_nm"):
            continue
        else:
            normal = stats.norm(mean, sd)
            low, median, high = normal.ppf(QUANTILES)
            columns[name] = np.exp(values) if is_logarithm(name) else values
            if is_logarithm(name):
                low, median, high = np.exp([low, median, high])
            unit = "nm" if name.endswith("_nm") else "deg" if name.endswith("_deg") else ""
            result.append({"name": name, "unit": unit, "prior": {"low": low, "median": median, "high": high},
                           "posterior": summary(columns[name])})
    return result, columns


def modes(problem, chains):
    result = []
    for words, combination in MODES[problem.name].items():
        value = sum(w * chains[..., problem.names.index(n)] for n, w in combination.items())
        mean, variance = (sum(w**k * problem.prior(n)[k - 1] ** k for n, w in combination.items()) for k in (1, 2))
        signs = []
        for label, sign in (("positive", 1), ("negative", -1)):
            inside = (sign * value > 0).astype(float)
            error, _ = error_of_mean(inside) if inside.any() and not inside.all() else (0.0, 0)
            here = chains[inside > 0]
            signs.append({"sign": label, "weight": inside.mean(), "monte_carlo_error": error,
                          "mean": dict(zip(problem.names, here.mean(axis=0))) if len(here) else None,
                          "sd": dict(zip(problem.names, here.std(axis=0))) if len(here) else None})
        spread = np.sqrt(np.mean(value**2))
        result.append({"by_the_sign_of": words, "prior_weight_positive": float(stats.norm.cdf(mean / math.sqrt(variance))),
                       "modes": signs, "share_between": float(np.mean(np.abs(value) < 0.25 * spread)),
                       "between": "absolute value below a quarter of its root mean square"})
    return result


def importance(problem, chains, count=200_000, kernels=48):
    """Independent of the chain's weights: draws from a mixture of Student's t (5 degrees of freedom), one for each cluster of the
    sample, and a fifth from the prior, each weighted by posterior over proposal. Means, sds and ln evidence with standard errors."""
    generator = np.random.default_rng(5)
    flat = chains.reshape(-1, chains.shape[-1])
    flat = flat[generator.choice(len(flat), 60_000, replace=False)]
    scale = flat.std(axis=0)
    _, label = kmeans2(flat / scale, kernels, minit="++", seed=7)
    parts = []
    for k in range(kernels):
        here = flat[label == k]
        if len(here) > 20 * flat.shape[1]:
            parts.append((len(here), stats.multivariate_t(here.mean(axis=0), 1.3 * np.cov(here.T), df=5)))
    weights = np.array([n for n, _ in parts], float)
    weights *= 0.8 / weights.sum()
    numbers = generator.multinomial(count, [*weights, 1 - weights.sum()])
    draws = [t.rvs(n, random_state=generator).reshape(n, -1) for n, (_, t) in zip(numbers, parts)]
    draws = np.concatenate(draws + [problem.draw(generator, numbers[-1])])
    proposal = np.log(1 - weights.sum()) + problem.log_prior(draws)
    for w, (_, t) in zip(weights, parts):
        proposal = np.logaddexp(proposal, math.log(w) + t.logpdf(draws))
    posterior = problem.log_posterior(draws)
    ratio = posterior - proposal
    top = ratio.max()
    weight = np.exp(ratio - top)
    share = weight / weight.sum()
    mean = share @ draws
    sd = np.sqrt(share @ (draws - mean) ** 2)
    error = np.sqrt(share**2 @ (draws - mean) ** 2)
    sd_error = np.sqrt(share**2 @ (((draws - mean) ** 2 - sd**2) / (2 * sd)) ** 2)
    weights_of = []
    for words, combination in MODES[problem.name].items():
        inside = sum(w * draws[:, problem.names.index(n)] for n, w in combination.items()) > 0
        weights_of.append({"by_the_sign_of": words, "weight_positive": float(share[inside].sum()),
                           "error": float(np.sqrt(share**2 @ (inside - share[inside].sum()) ** 2))})
    named = lambda x: dict(zip(problem.names, x))                                # noqa: E731
    return {"draws": count, "effective_sample_size": 1 / np.sum(share**2),
            "log_evidence": top + math.log(weight.mean()), "log_evidence_error": weight.std() / weight.mean() / math.sqrt(count),
            "mean": named(mean), "sd": named(sd), "mean_error": named(error), "sd_error": named(sd_error), "mode_weights": weights_of}


def prior_draws(problem, count=20):
    """Ratios by model.py itself at the stated quadrature; how far the quick path and a finer quadrature are from them."""
    theta = problem.draw(np.random.default_rng([11, ord(problem.name)]), count)
    values = problem.physical(theta)
    quick = problem.bench.ratios(values)
    records, finest = [], 0.0
    for i, row in enumerate(values):
        ratios = [slow_ratio(problem.scenario, row, s) for s in problem.settings]
        if i < 5:
            fine = [slow_ratio(problem.scenario, row, s, (16, 48)) for s in problem.settings]
            finest = max(finest, np.max(np.abs(np.array(fine) / ratios - 1)))
        at = dict(zip(PHYSICAL, row))
        told = {}
        for name in problem.names:
            if name.endswith("cos_nm"):
                lens = name.removesuffix("cos_nm")
                c, s = at[name], at[lens + "sin_nm"]
                told |= {lens + "path_difference_nm": math.hypot(c, s), lens + "azimuth_deg": math.degrees(math.atan2(s, c)) / 2 % 180}
            elif not name.endswith("sin_nm"):
                told[name] = at[name]
        records.append({"unknowns": {k: float(v) for k, v in told.items()}, "ratios": [float(r) for r in ratios],
                        "log_likelihood": float(problem.log_likelihood(theta[i:i + 1])[0])})
    difference = max(np.max(np.abs(q / r["ratios"] - 1)) for q, r in zip(quick, records))
    return {"largest_relative_difference_of_quick_path": float(f"{difference:.2g}"),
            "largest_relative_change_at_16_nodes_48_azimuths": float(f"{finest:.2g}"), "draws": records}


def fit(name, steps):
    started = time.monotonic()
    problem = Problem(name)
    thin = 5
    with Pool(PROCESSES) as pool:
        chains, acceptance, alone = zip(*pool.map(ensemble, [(name, k, steps, thin) for k in range(ENSEMBLES)], chunksize=1))
    chains = np.array(chains)
    sampling = time.monotonic() - started
    found, columns = unknowns(problem, chains)
    sampled = []
    for i, n in enumerate(problem.names):
        sampled.append({"name": ("ln " if is_logarithm(n) else "") + n,
                        "prior": {"mean": problem.mean[i], "sd": problem.sd[i]}, "posterior": summary(chains[..., i])})
    flat = chains.reshape(-1, chains.shape[-1])
    between = chains.mean(axis=(1, 2)).var(axis=0, ddof=1)
    check = importance(problem, chains)
    listed = {f"{kind}.{profile}" for kind in ("condenser", "objective") for entry in part(problem.scenario, kind)[1] for profile in entry}
    held = {n: v for n, v in problem.file.items()
            if n not in problem.names and (n.count(".") < 2 or n.rsplit(".", 1)[0] in listed)}
    return rounded({
        "scenario": f"bench-{name}.toml", "readings": f"bench-{name}.csv",
        "free": [u["name"] for u in found],
        "held": held | {"lower polar.cover_nm": 0.0}, "none": "strain profiles that the file does not list",
        "unknowns": found,
        "correlation": {"names": [s["name"] for s in sampled], "matrix": np.corrcoef(flat.T)},
        "correlation_of_unknowns": {"names": list(columns), "matrix": np.corrcoef([c.reshape(-1) for c in columns.values()])},
        "sampled": sampled,
        "modes": modes(problem, chains),
        "importance_sampling": check,
        "log_evidence": check["log_evidence"], "log_evidence_error": check["log_evidence_error"],
        "sampler": {"ensembles": ENSEMBLES, "walkers": WALKERS, "steps": steps, "burnt": BURNT, "kept_every": thin,
                    "kept_draws": int(flat.shape[0]), "acceptance": float(np.mean(acceptance)), "walkers_moved_while_burning": sum(alone),
                    "autocorrelation_steps": {s["name"]: thin * time_of(chains[..., i]) for i, s in enumerate(sampled)},
                    "smallest_effective_sample_size": min(s["posterior"]["effective_sample_size"] for s in sampled),
                    "largest_error_of_mean_over_sd": max(s["posterior"]["monte_carlo_error"]["mean"] / s["posterior"]["sd"] for s in sampled),
                    "scatter_of_ensemble_means_over_sd": {s["name"]: math.sqrt(b) / s["posterior"]["sd"] for s, b in zip(sampled, between)},
                    "seconds_sampling": round(sampling, 1), "seconds": round(time.monotonic() - started, 1)},
    }) | {"prior_draws": prior_draws(problem)}


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("bench", nargs="*", default=[])
    parser.add_argument("--steps", type=int)
    options = parser.parse_args()
    path = HERE / "fit.json"
    result = json.loads(path.read_text()) if path.exists() else {}
    result |= {
        "made_by": f"fit/make_fit.py with emcee {emcee.__version__}, numpy {np.__version__}, scipy {scipy.__version__}",
        "likelihood": f"normal in ln(ratio), sd^2 = (error_percent/100)^2 + {MODEL_ERROR}^2, with its constant; ratio is parallel over crossed",
        "quadrature": {"wavelengths_nm": [540, 545, 550], "wavelength_weights": "line of 546.1 nm, Gauss of 10 nm full width at half maximum, times CIE 1931 y-bar",
                       "s_squared_nodes": NODES, "azimuths": AZIMUTHS,
                       "rule": "Gauss-Legendre in s^2 from 0 to A^2; azimuths at (k + 1/2) 360/azimuths degrees"},
    }
    result.setdefault("benches", {})
    for name in options.bench or list(SAMPLED):
        result["benches"][name] = fit(name, options.steps or STEPS[name])
        result["benches"] = dict(sorted(result["benches"].items()))
        path.write_text(json.dumps(result, indent=1) + "\n")
        made = result["benches"][name]
        print(name, json.dumps(made["sampler"], indent=1))


if __name__ == "__main__":
    main()
