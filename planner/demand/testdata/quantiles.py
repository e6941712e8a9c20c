#!/usr/bin/env python3
"""Writes negative_binomial.csv and split_lognormal.csv beside it, with scipy. Run: python3 quantiles.py

negative_binomial.csv: least k with P(K <= k) >= level and P(K <= k), scipy.stats.nbinom(size, size/(size+mean)).
split_lognormal.csv: quantiles of the split log-normal through p10, p50 and p90, and their mean by quadrature.
"""
import math
import pathlib

import scipy
from scipy import integrate, stats

here = pathlib.Path(__file__).parent
source = f"# scipy {scipy.__version__}, written by quantiles.py\n"
levels = [0.001, 0.01, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.99, 0.999]

with open(here / "negative_binomial.csv", "w") as f:
    f.write(source + "mean,size,level,quantile,cdf\n")
    for mean in [0.02, 0.3, 1, 2.5, 7, 20, 55.5, 140, 400, 1500, 2500, 40000, 1e6]:
        for size in [0.5, 3, 25, 400, 1e5]:
            d = stats.nbinom(size, size / (size + mean))
            for level in levels:
                k = d.ppf(level)
                f.write(f"{mean:g},{size:g},{level:g},{k:.0f},{d.cdf(k):.15g}\n")

with open(here / "split_lognormal.csv", "w") as f:
    f.write(source + "p10,p50,p90,level,quantile,mean\n")
    z90 = stats.norm.ppf(0.9)
    for p10, p50, p90 in [(45, 60, 90), (30, 60, 62), (1, 4, 9), (60, 60, 90), (0.5, 10, 30), (300, 310, 320)]:
        low, high = math.log(p50 / p10) / z90, math.log(p90 / p50) / z90
        x = lambda z: p50 * math.exp((low if z < 0 else high) * z)
        mean = sum(integrate.quad(lambda z: x(z) * stats.norm.pdf(z), a, b, epsabs=1e-12, epsrel=1e-12)[0] for a, b in [(-12, 0), (0, 12)])
        for level in levels:
            f.write(f"{p10:g},{p50:g},{p90:g},{level:g},{x(stats.norm.ppf(level)):.12g},{mean:.9g}\n")
