"""Makes surface_kriging.csv: heights and standard uncertainties of a surveyed board, conditioned on
its survey as one Gaussian vector by scipy.

    pip install scipy && python surface_kriging.py > surface_kriging.csv

The covariance of all heights is written out: a plane, two bows, a twist and a bulge between straight edges of the
stated standard deviations, and Matern's covariance of order 3/2 from its general form with the modified Bessel
function of the second kind. No least-squares fit, unlike the program. The amplitude is not the
prior's but what the residuals make of it, by the rule that the program states.
"""
import numpy as np
import scipy
from scipy.linalg import cho_factor, cho_solve
from scipy.special import gamma, kv

W, H, U = 2000.0, 1200.0, 0.05
FORM = np.array([1e3, 20.0, 20.0, 1.0, 1.0, 0.6, 0.6])
A0, REACH, PRIOR_PLACES, LEAST_SHARE = 0.25, 250.0, 12.0, 0.8
HALF = 1.678346990016661

def matern(d):
    r = HALF * d / REACH
    with np.errstate(invalid="ignore"):
        k = 2.0 ** -0.5 / gamma(1.5) * r ** 1.5 * kv(1.5, r)
    return np.where(r == 0.0, 1.0, k)

def terms(xy):
    a, d = 2 * xy[:, 0] / W, 2 * xy[:, 1] / H + 1
    return np.stack([0 * a + 1, a, d, 1 / 3 - a * a, 1 / 3 - d * d, a * d, (1 - a * a) * (1 - d * d)], 1)

def prior(p, q, amplitude):
    d = np.hypot(p[:, None, 0] - q[None, :, 0], p[:, None, 1] - q[None, :, 1])
    return (terms(p) * FORM**2) @ terms(q).T + amplitude**2 * matern(d)

def conditioned(xy, z, at, amplitude):
    v = cho_factor(prior(xy, xy, amplitude) + U * U * np.eye(len(z)))
    k = prior(xy, at, amplitude)
    mean = k.T @ cho_solve(v, z)
    u2 = np.diag(prior(at, at, amplitude)) - np.sum(k * cho_solve(v, k), 0)
    return mean, np.sqrt(np.maximum(u2, 0))

def amplitude(xy, z):
    d = np.hypot(xy[:, None, 0] - xy[None, :, 0], xy[:, None, 1] - xy[None, :, 1])
    v = A0**2 * matern(d) + U * U * np.eye(len(z))
    f = terms(xy)
    vi = np.linalg.inv(v)
    beta = np.linalg.solve(f.T @ vi @ f + np.diag(FORM**-2.0), f.T @ vi @ z)
    e = z - f @ beta
    ratio = (PRIOR_PLACES + e @ vi @ e) / (PRIOR_PLACES + max(len(z) - 7, 0))
    return A0 * max(np.sqrt(ratio), LEAST_SHARE)

print(f"# scipy {scipy.__version__}, numpy {np.__version__}: surface_kriging.py")
print("case,places,x_mm,y_mm,height_mm,u_mm,amplitude_mm")
rng = np.random.default_rng(7)
for case, (nx, ny) in enumerate([(3, 3), (5, 4), (8, 6)]):
    gx, gy = np.meshgrid(np.linspace(-W / 2, W / 2, nx), np.linspace(-H, 0, ny))
    xy = np.stack([gx.ravel(), gy.ravel()], 1).round(1)
    a, d = 2 * xy[:, 0] / W, 2 * xy[:, 1] / H + 1
    z = 0.5 * (1 - a * a) + 0.1 * a * d + 0.3 * np.sin(xy[:, 0] / 170.0) + 0.002 * xy[:, 1]
    z = (z + 0.02 * rng.standard_normal(len(z))).round(3)
    for (x, y), h in zip(xy, z):
        print(f"{case},survey,{x},{y},{h},{U},0")
    at = np.array([[0.0, -600.0], [333.0, -77.0], [-951.0, -1150.0], [710.0, -444.0], xy[1]])
    amp = amplitude(xy, z)
    for (x, y), m, u in zip(at, *conditioned(xy, z, at, amp)):
        print(f"{case},asked,{x},{y},{m:.9f},{u:.9f},{amp:.9f}")
