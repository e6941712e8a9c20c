"""Solves a mixed-integer program with HiGHS, through SciPy (Debian: apt-get install python3-scipy, 1.9 or newer).

    python3 milp.py program.json seconds        prints {"x": [...], "objective": ..., "bound": ...}

The program is minimise c·x with lower ≤ x ≤ upper, least ≤ A·x ≤ most, and x[j] whole where whole[j] is 1; A is given by the lists row,
column and value. Numbers of 1e30 and beyond are infinite. "x" is null if no solution was found in time.
"""
import json, sys
import numpy as np
import scipy.sparse as sp
from scipy.optimize import milp, LinearConstraint, Bounds

p = json.load(open(sys.argv[1]))


def limits(name):
    v = np.array(p[name], dtype=float)
    v[v >= 1e30], v[v <= -1e30] = np.inf, -np.inf
    return v


a = sp.csr_matrix((p['value'], (p['row'], p['column'])), shape=(len(p['least']), len(p['c'])))
r = milp(np.array(p['c']), constraints=LinearConstraint(a, limits('least'), limits('most')), integrality=np.array(p['whole']),
         bounds=Bounds(limits('lower'), limits('upper')), options=dict(time_limit=float(sys.argv[2]), mip_rel_gap=1e-4))
print(json.dumps({'x': None if r.x is None else list(r.x), 'objective': r.fun, 'bound': getattr(r, 'mip_dual_bound', None)}))
