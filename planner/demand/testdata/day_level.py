#!/usr/bin/env python3
"""Computes the figures quoted in correlation.go: python3 day_level.py yaz.csv

yaz: 765 days of demand for seven dishes of one restaurant, data set of the ddop library (opimwue/ddop), BSD-3-Clause.
Each open day is forecast by the mean of up to eight same weekdays before (four at least). Prints the excess a of the variance
over the mean (variance = m + a m^2) of each dish, the share of that excess that two dishes have in common on a day (covariance
over the geometric mean of their excesses, mean over the pairs), and the correlation of the whole day's error with the next's.
"""
import collections
import csv
import datetime
import sys

import numpy as np

sold = collections.defaultdict(dict)
for row in csv.DictReader(open(sys.argv[1])):
    if row["open"] == "1":
        sold[row["series"]][datetime.date.fromisoformat(row["date"])] = float(row["demand"])
names = sorted(sold)
errors, means = [], []
for day in sorted(set.intersection(*[set(sold[n]) for n in names])):
    before = [[sold[n][d] for k in range(1, 9) if (d := day - datetime.timedelta(7 * k)) in sold[n]] for n in names]
    if all(len(b) >= 4 and np.mean(b) > 0 for b in before):
        means.append([np.mean(b) for b in before])
        errors.append([sold[n][day] - np.mean(b) for n, b in zip(names, before)])
errors, means = np.array(errors).T, np.array(means).T
excess = np.maximum((errors**2).mean(1) - means.mean(1), 1e-9)
common = np.cov(errors) / np.sqrt(np.outer(excess, excess))
pairs = np.triu_indices(len(names), 1)
day = errors.sum(0) / means.sum(0)
print(len(day), "days,", len(names), "dishes")
print("a:", dict(zip(names, np.round(excess / (means**2).mean(1), 3))))
print("share of the excess in common: %.2f" % common[pairs].mean())
print("correlation with the next day: %.2f" % np.corrcoef(day[1:], day[:-1])[0, 1])
