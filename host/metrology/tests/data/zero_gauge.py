"""Reference values for the gauge's fit: scipy.odr (ODRPACK) with errors in both coordinates, and generalised least squares with
the covariance written out in numpy. Writes zero_gauge.csv; run with scipy 1.16 and numpy 2.4 (neither is needed by the tests).

    python zero_gauge.py > zero_gauge.csv
"""

import sys

import numpy as np
import scipy
from scipy import odr

rng = np.random.default_rng(20260)
HOME = 7600.0
SLOPE, SUM = 1.7132e-3, 0.41  # mm a code; s + z0 at HOME, mm

# Three stands on the board, three lifted; two slits (the lower one is out of sight of the highest).
stands = [(0.0, [0, 1]), (0.03, [0, 1]), (-0.02, [0, 1]), (0.62, [0, 1]), (1.4, [0, 1]), (2.6, [1])]
labels = [3.002, 9.004]
U_SLIT, U_GAUGE, U_STAND, U_LIFTED, U_MIDDLE, U_CODE = 0.006, 0.007, 0.012, 0.007, 0.0015, 1.5
true = [h + rng.normal(0, U_SLIT) + g for h, g in zip(labels, [rng.normal(0, U_GAUGE)] * 2)]

rows = []
for n, (lift, slits) in enumerate(stands):
    lifted = lift > 0.3
    seat = rng.normal(0, U_STAND) + (rng.normal(0, U_LIFTED) if lifted else 0.0)
    code = HOME + lift / SLOPE
    seen = code + rng.normal(0, U_CODE)
    for j in slits:
        middle = true[j] - SUM - SLOPE * (code - HOME) - seat + rng.normal(0, U_MIDDLE)
        rows.append((n, j, labels[j], middle, seen, lifted))

n = len(rows)
y = np.array([h - e for _, _, h, e, _, _ in rows])
home = np.mean([next(c for m, _, _, _, c, _ in rows if m == k) for k in range(3)])
d = np.array([r[4] for r in rows]) - home
X = np.column_stack([np.ones(n), d])
C = np.eye(n) * U_MIDDLE**2
for a in range(n):
    for b in range(n):
        C[a, b] += U_GAUGE**2
        if rows[a][1] == rows[b][1]:
            C[a, b] += U_SLIT**2
        if rows[a][0] == rows[b][0]:
            C[a, b] += U_STAND**2 + (U_LIFTED**2 if rows[a][5] else 0) + (U_CODE * 1.709207e-3) ** 2
W = np.linalg.inv(C)
cov = np.linalg.inv(X.T @ W @ X)
beta = cov @ X.T @ W @ y
left = y - X @ beta
chi2 = left @ W @ left

# One slit alone, each stand on its own: independent errors in both coordinates, which ODR is for.
one = [k for k in range(n) if rows[k][1] == 1]
sy = np.array([np.sqrt(U_MIDDLE**2 + U_STAND**2 + (U_LIFTED**2 if rows[k][5] else 0)) for k in one])
fit = odr.ODR(
    odr.RealData(d[one], y[one], sx=np.full(len(one), 8.0), sy=sy),
    odr.Model(lambda b, x: b[0] + b[1] * x),
    beta0=[SUM, SLOPE],
).run()

p = print
p(f"# made by zero_gauge.py with scipy {scipy.__version__}, numpy {np.__version__}: observations, then results")
p("stand,slit,height_mm,middle_mm,code,lifted,y_odr_u")
for k, (m, j, h, e, c, lifted) in enumerate(rows):
    p(f"{m},{j},{h},{e:.9f},{c:.6f},{int(lifted)},{sy[one.index(k)] if k in one else 0:.9f}")
s = sys.stderr
print(f"home {home:.6f}", file=s)
print(f"gls {beta[0]:.9f} {beta[1]:.12f} u {np.sqrt(cov[0,0]):.9f} {np.sqrt(cov[1,1]):.12f} chi2 {chi2:.9f}", file=s)
ou = np.sqrt(np.diag(fit.cov_beta))
print(f"odr {fit.beta[0]:.9f} {fit.beta[1]:.12f} u {ou[0]:.9f} {ou[1]:.12f} resvar {fit.res_var:.6f}", file=s)
