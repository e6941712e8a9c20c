"""Solves batch instances with HiGHS and prints a row of the table of README.md for each.

    nice python3 highs.py drawn/*.json          Debian: apt-get install python3-scipy (1.10 or newer)

The mixed-integer program of an instance, a column for every start, its grams, and what each lot serves in each slot. The
program itself never calls a solver of others: this only judges it.
"""
import json, os, sys, time
import numpy as np
import scipy.sparse as sp
from scipy.optimize import milp, LinearConstraint, Bounds

LIMIT_S = 60


def solve(d,limit):
    T=d['slots'];h=d['slot_min']/60
    c=[];lb=[];ub=[];integ=[]
    rows=[];lo=[];hi=[]
    def var(cost,l,u,i=0):
        c.append(cost);lb.append(l);ub.append(u);integ.append(i);return len(c)-1
    def row(co,l,u): rows.append(co);lo.append(l);hi.append(u)
    const=0
    bi={b['name']:i for i,b in enumerate(d['beverages'])}
    lots=[[] for _ in d['beverages']]  # (r,e,qvar or None,g)
    ppl=[{} for _ in range(T)]; ice_use=[{} for _ in range(T)]
    for br in d['brewers']:
        busy=[{} for _ in range(T)]
        for o in br['options']:
            b=d['beverages'][bi[o['beverage']]]
            for t in range(T):
                if t+b['ready_slots']>=T: continue
                if not any(w[0]<=t and t+o['busy_slots']<=w[1] for w in (br['available'] or [[0,T]])): continue
                x=var(o['batch_cost'],0,1,1); q=var(b['unit_cost_per_kg']/1000,0,o['max_g'])
                row({q:1,x:-o['max_g']},-np.inf,0); row({q:1,x:-o['min_g']},0,np.inf)
                r=t+b['ready_slots']; lots[bi[o['beverage']]].append((r,r+b['hold_slots'],q,0))
                ppl[t][x]=1
                for s in range(t,t+o['busy_slots']): busy[s][x]=1
                if 'ice' in d and d['ice'] and t+o.get('ice_slots',0)<T and o.get('ice_per_g',0)>0: ice_use[t+o['ice_slots']][q]=o['ice_per_g']
        for s in range(T):
            if len(busy[s])>0: row(busy[s],-np.inf,1)
    for t in range(T):
        if ppl[t]: row(ppl[t],-np.inf,d['starts_per_slot'])
    store=[{} for _ in range(T)]; sc=[0]*T
    for i,b in enumerate(d['beverages']):
        for o in b['opening'] or []: lots[i].append((0,o['expires_slot'],None,o['g']))
        dem=[{} for _ in range(T)]
        for (r,e,q,g) in lots[i]:
            left=-b['carry_credit_per_kg']/1000 if e>T else b['disposal_cost_per_kg']/1000
            if q is not None: c[q]+=left
            else: const+=left*g
            ys={}
            for s in range(r,min(e,T)):
                if b['demand_g'][s]>0:
                    y=var(b['aging_cost_per_kg_h']/1000*h*(s-r)-left,0,b['demand_g'][s]); ys[s]=y; dem[s][y]=1
            co={y:1 for y in ys.values()}
            if q is not None: co[q]=-1; row(co,-np.inf,0)
            else: row(co,-np.inf,g)
            for s in range(r,min(e,T)):
                if q is not None: store[s][q]=1
                else: sc[s]+=g
                for k,y in ys.items():
                    if k<=s: store[s][y]=-1
        for s in range(T):
            if b['demand_g'][s]>0:
                u=var(b['short_cost_per_kg']/1000,0,b['demand_g'][s]); dem[s][u]=1
                row(dem[s],b['demand_g'][s],b['demand_g'][s])
    for s in range(T): row(store[s],-np.inf,d['store_g']-sc[s])
    if d.get('ice'):
        I=d['ice'];prev=None
        for t in range(T):
            S=var(0,0,I['capacity_g']);m=var(0,0,I['make_g'][t]);u=var(I['short_cost_per_kg']/1000,0,I['serve_g'][t])
            co={S:1,m:-1,u:-1}; rhs=-I['serve_g'][t]
            if prev is not None: co[prev]=-(1-I['loss_per_slot'])
            else: rhs+=(1-I['loss_per_slot'])*I['opening_g']
            for q,v in ice_use[t].items(): co[q]=co.get(q,0)+v
            row(co,rhs,rhs); prev=S
    ri=[];ci=[];v=[]
    for k,co in enumerate(rows):
        for j,a in co.items(): ri.append(k);ci.append(j);v.append(a)
    A=sp.csr_matrix((v,(ri,ci)),shape=(len(rows),len(c)))
    t0=time.time()
    res=milp(np.array(c),constraints=LinearConstraint(A,lo,hi),integrality=np.array(integ),bounds=Bounds(lb,ub),options=dict(time_limit=limit,mip_rel_gap=1e-5))
    return (res.fun+const if res.fun is not None else float('nan')),(res.mip_dual_bound+const if res.mip_dual_bound is not None else float('nan')),time.time()-t0


if __name__ == '__main__':
    for path in sys.argv[1:]:
        objective, bound, seconds = solve(json.load(open(path)), LIMIT_S)
        took = '%d (limit)' % LIMIT_S if seconds >= LIMIT_S - 1 else '%.1f' % seconds
        print('| %s | %.4f | %.4f | %s |' % (os.path.basename(path)[:-5], objective, bound, took), flush=True)
