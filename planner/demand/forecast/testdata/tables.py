#!/usr/bin/env python3
"""Writes glm.csv, pinball.csv, counts.csv and coverage.csv beside it, with statsmodels, scikit-learn and scipy. Run: python3 tables.py

glm.csv: Poisson regression with log link of the demand of koefte in testdata/demand/yaz.csv (open days) on a constant, six weekdays
(Tuesday to Sunday), (temp_c - 12)/10, ln(1 + rain_mm) and holiday: coefficients and standard errors (inverse Fisher information).
pinball.csv: mean_pinball_loss of the forecast 5 for demands 0 to 9 at levels.
counts.csv: least k with P(K <= k) >= level, scipy.stats.nbinom(1/a, 1/(1 + a*mean)).
coverage.csv: share of such counts inside the 10-90 % range, the edges counted half.
"""
import csv
import datetime
import math
import pathlib

import numpy as np
import scipy
import sklearn
import statsmodels
import statsmodels.api as sm
from scipy import stats
from sklearn.metrics import mean_pinball_loss

here = pathlib.Path(__file__).resolve().parent
data = here.parents[3] / "testdata" / "demand" / "yaz.csv"

x, y = [], []
with open(data) as f:
    for r in csv.DictReader(f):
        if r["series"] != "koefte" or r["open"] != "1":
            continue
        day = datetime.date.fromisoformat(r["date"]).weekday()
        x.append([1] + [float(day == d) for d in range(1, 7)] + [(float(r["temp_c"]) - 12) / 10, math.log1p(float(r["rain_mm"])), float(r["holiday"])])
        y.append(float(r["demand"]))
fit = sm.GLM(np.array(y), np.array(x), family=sm.families.Poisson()).fit(tol=1e-12)
with open(here / "glm.csv", "w") as f:
    f.write(f"# statsmodels {statsmodels.__version__}, written by tables.py\ncoefficient,standard_error\n")
    for b, se in zip(fit.params, fit.bse):
        f.write(f"{b:.10g},{se:.10g}\n")

with open(here / "pinball.csv", "w") as f:
    f.write(f"# scikit-learn {sklearn.__version__}, written by tables.py\nlevel,loss\n")
    for level in (0.05, 0.1, 0.5, 0.9, 0.975):
        f.write(f"{level},{mean_pinball_loss(np.arange(10), np.full(10, 5), alpha=level):.10g}\n")

with open(here / "counts.csv", "w") as f:
    f.write(f"# scipy {scipy.__version__}, written by tables.py\nmean,spread,level,count\n")
    for mean in (0.4, 3, 12, 45, 150, 2000):
        for spread in (0.01, 0.07, 0.2):
            for level in (0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95):
                f.write(f"{mean},{spread},{level},{int(stats.nbinom.ppf(level, 1/spread, 1/(1+spread*mean)))}\n")

with open(here / "coverage.csv", "w") as f:
    f.write(f"# scipy {scipy.__version__}, written by tables.py\nmean,spread,inside\n")
    for mean in (3, 12, 45, 150):
        for spread in (0.01, 0.07, 0.2):
            d = stats.nbinom(1/spread, 1/(1+spread*mean))
            lo, hi = d.ppf(0.1), d.ppf(0.9)
            f.write(f"{mean},{spread},{d.cdf(hi) - d.cdf(lo - 1) - d.pmf(lo)/2 - d.pmf(hi)/2:.8g}\n")
