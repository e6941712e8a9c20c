"""Computes chill-wet.csv: mixes with wet ice, vessel and gain, the pre-cooling temperature and the ice for a target, from
IAPWS-95 and IAPWS-06 (Debian's python3-iapws) at 101.325 kPa by bisection. Run: /usr/bin/python3 testdata/checks/chill-wet.py
Wet ice brings wet_share of its mass as water at 0 °C."""
import csv
import os
import random

from iapws import IAPWS95
from iapws._iapws import _Ice

P = 0.101325


def water(t):
    return IAPWS95(T=t + 273.15, P=P).h


def ice(t):
    return _Ice(t + 273.15, P)["h"]


ZERO_W, ZERO_I = water(0.0), ice(0.0)


def solve(f, lo, hi):
    for _ in range(60):
        mid = (lo + hi) / 2
        if f(mid) > 0:
            hi = mid
        else:
            lo = mid
    return (lo + hi) / 2


random.seed(7)
rows = []
while len(rows) < 24:
    mb = random.choice([200, 588, 850, 2400])
    tb = random.choice([25, 45, 65, 80, 92])
    ti = random.choice([-1, -6, -12, -20, -30])
    wet = random.choice([0, 0.1, 0.2, 0.35])
    cv = random.choice([0, 0, 300, 900])
    tv = random.choice([4, 20, 28])
    gain = random.choice([0, 0, 2000])
    mi = round(mb * random.uniform(0.1, 0.45))
    target = random.choice([4, 6, 7, 10])
    hi = (1 - wet) * ice(ti) + wet * ZERO_W
    heat = mb / 1000 * water(tb) + mi / 1000 * hi + (cv * tv + gain) / 1000
    if heat < (mb + mi) / 1000 * ZERO_W:
        continue
    final = solve(lambda t: (mb + mi) / 1000 * water(t) + cv / 1000 * t - heat, 0.0, 99.9)
    if final < target:
        continue
    need = 1000 * (mb / 1000 * (water(tb) - water(target)) + (cv * (tv - target) + gain) / 1000) / (water(target) - hi)
    want = water(target) + (mi * (water(target) - hi) + cv * (target - tv) - gain) / mb
    if want < ZERO_W:
        continue
    pre = solve(lambda t: water(t) - want, 0.0, 99.9)
    rows.append([mb, tb, ti, wet, mi, cv, tv, gain, target, round(final, 4), round(need, 3), round(pre, 4)])

with open(os.path.join(os.path.dirname(__file__), "chill-wet.csv"), "w", newline="") as f:
    w = csv.writer(f, lineterminator="\n")
    w.writerow("beverage_g,beverage_temp_c,ice_temp_c,wet_share,ice_g,vessel_j_per_k,vessel_temp_c,heat_gain_j,target_temp_c,final_temp_c,ice_for_target_g,precool_c".split(","))
    w.writerows(rows)
