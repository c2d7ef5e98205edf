"""Statistics of the sets on standard input by SciPy, as JSON: the outside check of TestAgainstSciPy.

Input: a JSON list of {"name", "values"}. Run by the test; needs Debian's python3-scipy.
"""
import json
import sys

import numpy as np
from scipy import integrate, spatial, special, stats

out = []
for s in json.load(sys.stdin):
    if "points" in s:  # Delaunay: interpolate z at the origin
        p = np.array(s["points"])
        d = spatial.Delaunay(p[:, :2])
        k = int(d.find_simplex(np.zeros(2)))
        r = {"inside": k >= 0}
        if k >= 0:
            i = d.simplices[k]
            a = np.column_stack([p[i, :2], np.ones(3)])
            r["z"] = float(np.linalg.solve(a, p[i, 2])[2])
        out.append(r)
        continue
    if "sigma" in s:  # probability that a bivariate normal lies within a radius
        (a, b), radius = s["sigma"], s["radius"]

        def f(x):
            return 2 * np.exp(-x * x / (2 * a * a)) / (a * np.sqrt(2 * np.pi)) * special.erf(np.sqrt(max(radius**2 - x * x, 0)) / (b * np.sqrt(2)))

        out.append({"inside": integrate.quad(f, 0, radius, epsabs=1e-12, limit=400)[0]})
        continue
    v = np.array(s["values"])
    n = len(v)
    rmse = float(np.sqrt(np.mean(v**2)))
    t = stats.ttest_1samp(v, 0)
    jb = stats.jarque_bera(v)
    w = stats.shapiro(v)
    ci = t.confidence_interval(0.95)
    # smallest order statistic that bounds the 95th percentile with 95 % confidence, -1 without one
    k = next((k for k in range(1, n + 1) if stats.binom.cdf(k - 1, n, 0.95) >= 0.95), -1)
    boot = stats.bootstrap((v,), lambda x, axis: np.sqrt(np.mean(x**2, axis=axis)), method="percentile", n_resamples=20000, batch=2000, random_state=7).confidence_interval
    out.append({
        "mean": float(np.mean(v)), "std": float(np.std(v, ddof=1)), "rmse": rmse,
        "median": float(np.median(v)), "nmad": float(1.4826 * stats.median_abs_deviation(v)),
        "p95": float(np.percentile(np.abs(v), 95, method="linear")),
        "q683": float(np.percentile(np.abs(v), 68.3, method="linear")),
        "skew": float(stats.skew(v, bias=False)), "kurtosis": float(stats.kurtosis(v, bias=False)),
        "w": float(w.statistic), "w_p": float(w.pvalue), "mean_low": float(ci.low), "mean_high": float(ci.high),
        "p95_bound": float(np.sort(np.abs(v))[k - 1]) if k > 0 else -1.0, "boot_low": float(boot.low), "boot_high": float(boot.high),
        "std_low": float(np.std(v, ddof=1) * np.sqrt((n - 1) / stats.chi2.ppf(0.975, n - 1))), "std_high": float(np.std(v, ddof=1) * np.sqrt((n - 1) / stats.chi2.ppf(0.025, n - 1))),
        "one_beyond": float(1 - (1 - 2 * stats.norm.sf(3)) ** n),
        "jb": float(jb.statistic), "jb_p": float(jb.pvalue),
        "low": rmse * float(np.sqrt(n / stats.chi2.ppf(0.975, n))), "high": rmse * float(np.sqrt(n / stats.chi2.ppf(0.025, n))),
        "upper": rmse * float(np.sqrt(n / stats.chi2.ppf(0.05, n))),
        "t": float(t.statistic), "t_p": float(t.pvalue), "t_limit": float(stats.t.ppf(0.975, n - 1)),
        "class_confidence": float(stats.chi2.sf(n * (rmse / 0.1) ** 2, n)),
        "pass": float(stats.chi2.cdf(n / 1.25**2, n)),
    })
json.dump(out, sys.stdout)
