"""Compares the samples that main.go took with closed answers and with a general-purpose ensemble sampler, within Monte Carlo error.

    compare.py [--json] DIR      DIR holds problems.json and the samples 0.f64, 1.f64, ...

What is compared, and the criterion, is in bench/README.md. Ends with 0 when all agrees, 1 when not.
"""

import json
import math
import os
import sys
from statistics import NormalDist

import emcee
import numpy as np

WORTH = 4000  # independent draws the peer is run for
CHANCE = 0.01  # that samples without any fault fail, all comparisons together
STANDARD = NormalDist()


# ---- the problems, written a second time


def network(w, z):
    """By the eigenvectors of the system matrix, where main.go uses hyperbolic functions."""
    c1, c2, r12, r2a = (mid * w["factor"] ** z[:, i] for i, mid in enumerate(w["middle"]))
    a = np.empty((len(z), 2, 2))
    a[:, 0, 0], a[:, 0, 1] = -1 / (r12 * c1), 1 / (r12 * c1)
    a[:, 1, 0], a[:, 1, 1] = 1 / (r12 * c2), -(1 / r12 + 1 / r2a) / c2
    end = w["powerW"] * np.stack([r12 + r2a, r2a], axis=1)
    values, vectors = np.linalg.eig(a)
    weights = np.linalg.solve(vectors, end[..., None])[..., 0]
    out = []
    for t, seen in zip(w["tS"], w["riseK"]):
        rise = end - np.einsum("wij,wj->wi", vectors, np.exp(values * t) * weights)
        out.append((rise - np.array(seen)) / w["doubtK"])
    return np.concatenate(out, axis=1)


@np.vectorize
def log_not_passed(r):
    """ln of the normal distribution function at -r; its leading term where the complementary error function ends."""
    if r < 35:
        return math.log(0.5 * math.erfc(r / math.sqrt(2)))
    return -0.5 * r * r - math.log(r * math.sqrt(2 * math.pi))


def log_posterior(p, bound):
    if "network" in p:
        residuals = lambda z: network(p["network"], z)
    else:
        a, c, q = np.array(p["a"]), np.array(p["c"]), np.array(p.get("q") or np.zeros(len(p["c"])))
        residuals = lambda z: z @ a.T + c + np.outer(z[:, 0] ** 2, q)

    def f(z):
        out = np.full(len(z), -np.inf)
        within = np.abs(z).max(axis=1) <= bound
        r = residuals(z[within])
        out[within] = -0.5 * (z[within] ** 2).sum(axis=1)
        for i in p.get("oneSided") or []:
            out[within] += log_not_passed(r[:, i])
            r[:, i] = 0
        out[within] -= 0.5 * (r**2).sum(axis=1)
        return out

    return f


# ---- what is known of them without sampling


class Truth:
    """A posterior as a mixture of Gaussians N(means[g], cov) with weights[g] along one scalar g; of one Gaussian when all is linear."""

    def __init__(self, log_weights, means, cov, step):
        w = np.exp(log_weights - np.max(log_weights))
        self.weights, self.means, self.within, self.step = w / w.sum(), means, cov, step
        self.mean = self.weights @ means
        about = means - self.mean
        self.cov = cov + (self.weights[:, None] * about).T @ about

    def below(self, i, x):
        # The scalar itself has no spread at a grid point: half a step of it instead, an error of the second order in the step.
        sd = max(math.sqrt(max(self.within[i, i], 0)), self.step / 2)
        return sum(w * STANDARD.cdf((x - m) / sd) for w, m in zip(self.weights, self.means[:, i]))


def truth(p):
    """The closed answer of a linear problem; quadrature over one scalar when the rest is Gaussian given it; None otherwise."""
    if "network" in p or len(p.get("oneSided") or []) > 1:
        return None
    a, c, n = np.array(p["a"]), np.array(p["c"]), p["n"]
    if p.get("q"):  # given z0 the rest is linear
        g = np.linspace(-6, 6, 4001)
        known = np.outer(g, a[:, 0]) + c + np.outer(g**2, p["q"])
        rest = a[:, 1:]
        precision = rest.T @ rest + np.eye(n - 1)
        m = -np.linalg.solve(precision, rest.T @ known.T).T
        log_weights = -0.5 * ((known**2).sum(axis=1) + g**2 - np.einsum("gi,ij,gj->g", m, precision, m))
        cov = np.zeros((n, n))
        cov[1:, 1:] = np.linalg.inv(precision)
        return Truth(log_weights, np.column_stack([g, m]), cov, g[1] - g[0])
    both = np.delete(np.arange(len(c)), p.get("oneSided") or [])
    cov = np.linalg.inv(a[both].T @ a[both] + np.eye(n))
    mean = -cov @ a[both].T @ c[both]
    if not p.get("oneSided"):
        return Truth(np.zeros(1), mean[None, :], cov, 0.0)
    # given the one-sided residual u the rest is linear
    row = a[p["oneSided"][0]]
    middle, variance = row @ mean + c[p["oneSided"][0]], row @ cov @ row
    u = middle + math.sqrt(variance) * np.linspace(-9, 9, 6001)
    log_weights = -0.5 * (u - middle) ** 2 / variance + log_not_passed(u)
    along = cov @ row / variance
    return Truth(log_weights, mean + np.outer(u - middle, along), cov - np.outer(along, along) * variance, 0.0)


# ---- samples


class Sample:
    """chain is (steps, walkers, unknowns)."""

    def __init__(self, chain):
        self.chain = chain
        self.mean = chain.mean(axis=(0, 1))
        self.cov = np.cov(chain.reshape(-1, chain.shape[2]), rowvar=False)

    def average(self, q):
        """Mean of q(chain), (steps, walkers), its standard error and the independent draws it is worth.

        From the autocorrelation of the ensemble's mean over the steps (Goodman & Weare, Comm. App. Math. Comp. Sci. 5 (2010), sec. 3),
        which holds when the walkers depend on each other, too. The third is the relative standard error of the second's square by
        Sokal's formula, for a window of five times.
        """
        series = q.mean(axis=1)
        tau = max(float(emcee.autocorr.integrated_time(series[:, None, None], tol=0)[0]), 1e-3)
        variance = max(float(series.var()) * tau / len(series), 1e-300)
        return float(q.mean()), math.sqrt(variance), float(q.var()) / variance, math.sqrt(2 * (10 * tau + 1) / len(series))


def peer(p, bound, seed):
    """The general-purpose sampler's, from draws of the prior, so that it has to find the modes itself."""
    n, walkers = p["n"], max(64, 4 * p["n"])
    np.random.seed(seed)
    rng = np.random.default_rng(seed)
    z = np.clip(rng.standard_normal((walkers, n)), -0.99 * bound, 0.99 * bound)
    moves = [(emcee.moves.StretchMove(), 0.3), (emcee.moves.DEMove(), 0.6), (emcee.moves.DEMove(gamma0=1.0), 0.1)]
    s = emcee.EnsembleSampler(walkers, n, log_posterior(p, bound), moves=moves, vectorize=True)
    steps = 0
    while steps < 64000:
        more = max(2000, steps)
        s.run_mcmc(z if steps == 0 else None, more)
        steps += more
        sample = Sample(s.get_chain(discard=steps // 4))
        if worth(sample).min() >= WORTH:
            return sample, steps * walkers
    return sample, steps * walkers


def worth(sample):
    """Independent draws of each unknown, the lesser of those for mean and for spread."""
    x = sample.chain
    return np.array([min(sample.average(x[:, :, i])[2], sample.average((x[:, :, i] - sample.mean[i]) ** 2)[2]) for i in range(x.shape[2])])


# ---- comparisons


def compare(p, ours, other, exact, shares):
    """All differences in standard errors, as {pair: {what: [z]}}."""
    f, n = p["found"], p["n"]
    pairs = {"ours - peer": {}, "ours - exact": {}, "peer - exact": {}} if exact else {"ours - peer": {}}

    def put(what, a, b, c):
        """a, b: (value, standard error) of ours and the peer's, c the exact value."""
        pairs["ours - peer"].setdefault(what, []).append((a[0] - b[0]) / math.hypot(a[1], b[1]))
        if exact:
            pairs["ours - exact"].setdefault(what, []).append((a[0] - c) / a[1])
            pairs["peer - exact"].setdefault(what, []).append((b[0] - c) / b[1])

    x, y = ours.chain, other.chain
    for i in range(n):
        put("means", (f["mean"][i], ours.average(x[:, :, i])[1]), other.average(y[:, :, i])[:2], exact and exact.mean[i])
        for k in range(i + 1):
            _, se, *_ = ours.average((x[:, :, i] - ours.mean[i]) * (x[:, :, k] - ours.mean[k]))
            _, se_other, *_ = other.average((y[:, :, i] - other.mean[i]) * (y[:, :, k] - other.mean[k]))
            if i == k:  # of the root: by its derivative
                sd, sd_other = math.sqrt(f["cov"][i][i]), math.sqrt(other.cov[i, i])
                put("sds", (sd, se / (2 * sd)), (sd_other, se_other / (2 * sd_other)), exact and math.sqrt(exact.cov[i, i]))
            else:
                put("covariances", (f["cov"][i][k], se), (other.cov[i, k], se_other), exact and exact.cov[i, k])
        for share, at in zip(shares, f["quantiles"][i]):  # the probability below what we say is the quantile
            put("quantiles", (share, ours.average(x[:, :, i] < at)[1]), other.average(y[:, :, i] < at)[:2], exact and exact.below(i, at))
    if exact and len(exact.weights) == 1:
        pairs["ours - exact"]["whitened"] = [whitened(ours, exact)]
        pairs["peer - exact"]["whitened"] = [whitened(other, exact)]
    # What is claimed to be independent, over what it is worth: only too much is a fault.
    claims = []
    for i in range(n):
        claimed = f["ess"][i]
        for q in (x[:, :, i], (x[:, :, i] - ours.mean[i]) ** 2):
            _, _, measured, doubt = ours.average(q)
            claims.append(math.log(claimed / measured) / doubt)
    pairs["ours - exact" if exact else "ours - peer"]["claimed"] = [max(c, 0) for c in claims]
    return pairs


def whitened(sample, exact):
    """Means and covariances at once where the exact answer is N(m, L L'): those of y = L^-1 (z - m) are 0 and I, and their errors
    uncorrelated, so that the sum of z^2 is a chi-square. As a normal, after Wilson & Hilferty (PNAS 17 (1931))."""
    y = np.linalg.solve(np.linalg.cholesky(exact.cov), (sample.chain.reshape(-1, len(exact.mean)) - exact.mean).T).T.reshape(sample.chain.shape)
    total, count = 0.0, 0
    for i in range(y.shape[2]):
        value, se, *_ = sample.average(y[:, :, i])
        total, count = total + (value / se) ** 2, count + 1
        for k in range(i + 1):
            value, se, *_ = sample.average(y[:, :, i] * y[:, :, k])
            total, count = total + ((value - (i == k)) / se) ** 2, count + 1
    return ((total / count) ** (1 / 3) - 1 + 2 / (9 * count)) / math.sqrt(2 / (9 * count))


def main():
    as_json = "--json" in sys.argv[1:]
    (folder,) = [a for a in sys.argv[1:] if a != "--json"]
    with open(os.path.join(folder, "problems.json")) as file:
        session = json.load(file)
    rows = []
    for number, p in enumerate(session["problems"]):
        print(f"comparing: {p['name']}", file=sys.stderr)
        f = p["found"]
        ours = Sample(np.fromfile(os.path.join(folder, f"{number}.f64"), "<f8").reshape(f["steps"], f["walkers"], p["n"]))
        other, calls = peer(p, session["bound"], 5 + number)
        exact = truth(p)
        mine, theirs = worth(ours), worth(other)
        rows.append({
            "name": p["name"],
            "exact": "" if exact is None else "closed" if len(exact.weights) == 1 else "quadrature",
            "worth": [float(mine.min()), float(theirs.min())],
            "callsPerDraw": [f["calls"] / float(mine.min()), calls / float(theirs.min())],
            "claimedOverWorth": float((np.array(f["ess"]) / mine).max()),
            "z": compare(p, ours, other, exact, session["shares"]),
        })
    count = sum(len(z) for r in rows for kinds in r["z"].values() for z in kinds.values())
    limit = STANDARD.inv_cdf(1 - CHANCE / (2 * count))
    for r in rows:
        r["worst"] = {pair: {what: max(map(abs, z)) for what, z in kinds.items()} for pair, kinds in r["z"].items()}
        r["rms"] = {pair: {what: math.sqrt(sum(v * v for v in z) / len(z)) for what, z in kinds.items()} for pair, kinds in r["z"].items()}
    bad = [f"{r['name']}: {pair}, {what}: {v:.1f} standard errors" for r in rows for pair, kinds in r["worst"].items()
           for what, v in kinds.items() if not v <= limit]
    if as_json:
        json.dump({"chance": CHANCE, "comparisons": count, "limit": limit, "outside": bad, "problems": rows}, sys.stdout, indent=1)
        print()
    else:
        table(rows, count, limit, bad)
    sys.exit(1 if bad else 0)


def table(rows, count, limit, bad):
    print(f"peer: emcee {emcee.__version__}. {count} comparisons; the largest may be {limit:.2f} standard errors\n")
    whats = ["means", "sds", "covariances", "quantiles", "whitened", "claimed"]
    print("largest difference in standard errors (root of mean square)")
    print(f"{'':44}{'':18}" + "".join(f"{w:>14}" for w in whats))
    for r in rows:
        name = r["name"]
        for pair, worst in r["worst"].items():
            label = pair.replace("exact", r["exact"])
            cells = "".join(f"{cell(worst, r['rms'][pair], w):>14}" for w in whats)
            print(f"{name:44}{label:18}{cells}")
            name = ""
    print(f"\n{'':44}{'independent draws':>22}{'calls for each':>22}{'claimed':>10}\n{'':44}" + f"{'ours':>11}{'peer':>11}" * 2 + f"{'/worth':>10}")
    for r in rows:
        print(f"{r['name']:44}{r['worth'][0]:11.0f}{r['worth'][1]:11.0f}{r['callsPerDraw'][0]:11.1f}{r['callsPerDraw'][1]:11.1f}"
              f"{r['claimedOverWorth']:10.2f}")
    print("\nall within Monte Carlo error" if not bad else "\nNOT within Monte Carlo error:\n" + "\n".join(bad))


def cell(worst, rms, what):
    return f"{worst[what]:.1f} ({rms[what]:.1f})" if what in worst else ""


main()
