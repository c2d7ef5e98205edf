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
    out.append({
        "mean": float(np.mean(v)), "std": float(np.std(v, ddof=1)), "rmse": rmse,
        "median": float(np.median(v)), "nmad": float(1.4826 * stats.median_abs_deviation(v)),
        "p95": float(np.percentile(np.abs(v), 95, method="linear")),
        "q683": float(np.percentile(np.abs(v), 68.3, method="linear")),
        "skew": float(stats.skew(v, bias=False)), "kurtosis": float(stats.kurtosis(v, bias=False)),
        "jb": float(jb.statistic), "jb_p": float(jb.pvalue),
        "low": rmse * float(np.sqrt(n / stats.chi2.ppf(0.975, n))), "high": rmse * float(np.sqrt(n / stats.chi2.ppf(0.025, n))),
        "upper": rmse * float(np.sqrt(n / stats.chi2.ppf(0.05, n))),
        "t": float(t.statistic), "t_p": float(t.pvalue), "t_limit": float(stats.t.ppf(0.975, n - 1)),
        "class_confidence": float(stats.chi2.sf(n * (rmse / 0.1) ** 2, n)),
        "pass": float(stats.chi2.cdf(n / 1.25**2, n)),
    })
json.dump(out, sys.stdout)
