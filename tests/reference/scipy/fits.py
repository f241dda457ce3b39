"""Fits the two logs independently of the crate and writes fits.json.

    python make_logs.py && python fits.py

Needs numpy and SciPy.

plain: least squares of all eight coefficients on plain-log.csv (friction, exchange and
bowl as logarithms), and their standard errors.

prior: on prior-log.csv, the mode of

    ½ Σ z² − Σ_b ln[ (1 − ε) N(r_b; V_b) + ε N(r_b; V_b + s²) ]
    V_b = σ_dough² + Σ_i (σ_i ∂T/∂input_i)² + a²τ²,  a² = 0.3² + (∂T/∂ln q / 10 K)²

with z = (coefficient on its fitted scale − prior) / spread, τ = 0.3 K known, ε = 0.02,
s = 20 K, and V_b taken at the mode itself (it is held while the objective is minimised,
then renewed, until both stay).

several: on plain-log.csv, half of whose batches are read twice, the mode of

    ½ Σ z² + ½ Σ_b r_bᵀ V_b⁻¹ r_b,   V_b = σ_dough² I + G Gᵀ + τ² a aᵀ

G having what one standard deviation of each input does to each reading, a each reading's
share of the scatter: whole matrices, inverted; again V_b is taken at the mode.
"""

import json

import numpy as np
import scipy
from scipy.optimize import least_squares, minimize

from kitchen import (COMMON, Model, dough_c, gradient, input_slopes, input_variance, read_log,
                     scatter_share)

UNCERTAINTIES = {"flour_k": 0.5, "water_k": 0.3, "room_k": 0.7, "dough_k": 0.3,
                 "minutes_min": 0.1, "scale_relative": 0.005, "ice_relative": 0.02,
                 "flour_friction": 0.04}
TAU, SHARE, SPREAD = 0.3, 0.02, 20.0


def set_up(name):
    speeds, batches = read_log(name)
    model = Model(max(b.mass_kg() for b in batches))
    # The flour logged most often is the reference; the others by name.
    named = [b.flour for b in batches if b.flour]
    most = max(named, key=named.count, default=None)
    flours = sorted(set(named) - {most})
    names = ["friction_" + s for s in speeds] + COMMON + ["dough_friction_" + f for f in flours]
    positive = len(speeds) + 2
    bowl = 0.1 * model.usual_charge_kg * model.dough_kj_per_kg_k(0.65)
    median = np.array([35.0] * len(speeds) + [0.75, bowl, 15.1, 0.0, 1.5, 0.02])
    prior = np.concatenate([np.log(median[:positive]), median[positive:], [0.0] * len(flours)])
    spread = np.array([0.8] * len(speeds) + [0.8, 0.7, 2.0, 0.15, 1.5, 0.01]
                      + [0.04] * len(flours))
    linear = len(COMMON) - 2

    def natural(fitted):
        values = ([np.exp(v) for v in fitted[:positive]]
                  + list(fitted[positive:positive + linear])
                  + [np.exp(v) for v in fitted[positive + linear:]])
        return dict(zip(names, values))

    observed = [(b, s, r) for b in batches for s, r in enumerate(b.readings)]
    return model, names, natural, prior, spread, observed


def plain():
    model, names, natural, prior, spread, observed = set_up("plain-log.csv")
    residuals = lambda x: np.array(
        [np.real(dough_c(model, natural(x), b, s)) - r for b, s, r in observed])
    jacobian = lambda x: np.array(
        [gradient(lambda x: dough_c(model, natural(x), b, s), x) for b, s, _ in observed])
    x = least_squares(residuals, prior, jacobian, method="lm", x_scale=spread,
                      xtol=1e-15, ftol=1e-15, gtol=1e-15, max_nfev=10_000).x
    for _ in range(20):
        step = np.linalg.lstsq(jacobian(x) * spread, -residuals(x), rcond=None)[0] * spread
        x = x + step
    print("plain: last step", np.abs(step / spread).max())
    rss = float((residuals(x) ** 2).sum())
    dof = len(observed) - len(x)
    _, r = np.linalg.qr(jacobian(x) * spread)
    inverse = np.linalg.inv(r)
    errors = np.sqrt((inverse**2).sum(axis=1) * rss / dof) * spread
    return {"names": names, "fitted": list(x), "standard_errors": list(errors),
            "rss": rss, "dof": dof}


def prior():
    model, names, natural, prior, spread, observed = set_up("prior-log.csv")
    at = lambda z: prior + spread * z

    def minimum(z, variances):
        def terms(z, with_slope):
            value, slope = 0.5 * (z**2).sum(), z.copy()
            for (b, s, r), v in zip(observed, variances):
                off = np.real(dough_c(model, natural(at(z)), b, s)) - r
                wide = v + SPREAD**2
                good = (1 - SHARE) * np.exp(-0.5 * off**2 / v) / np.sqrt(2 * np.pi * v)
                bad = SHARE * np.exp(-0.5 * off**2 / wide) / np.sqrt(2 * np.pi * wide)
                value -= np.log(good + bad)
                if with_slope:
                    pull = off * (good / v + bad / wide) / (good + bad)
                    slope += pull * spread * gradient(
                        lambda x: dough_c(model, natural(x), b, s), at(z))
            return value, slope

        slope = lambda z: terms(z, True)[1]
        z = minimize(lambda z: terms(z, True), z, jac=True, method="BFGS",
                     options={"gtol": 1e-9}).x
        h = 1e-5
        n = len(z)
        bend = np.array([(slope(z + h * e) - slope(z - h * e)) / (2 * h) for e in np.eye(n)])
        for _ in range(12):
            z = z - np.linalg.solve(bend, slope(z))
        if min(np.linalg.eigvalsh(0.5 * (bend + bend.T))) <= 0:
            raise SystemExit("no minimum")
        return z

    z = np.zeros(len(prior))
    for turn in range(60):
        c = natural(at(z))
        variances = [UNCERTAINTIES["dough_k"] ** 2 + (TAU * scatter_share(model, c, b, s)) ** 2
                     + input_variance(model, c, b, s, UNCERTAINTIES) for b, s, _ in observed]
        before, z = z, minimum(z, variances)
        moved = np.abs(z - before).max()
        if moved < 1e-13:
            break
    print("prior: turns", turn + 1, "last move", moved)
    return {"names": names, "mode": list(at(z)), "spreads": list(spread), "scatter_k": TAU}


def several():
    model, names, natural, prior, spread, _ = set_up("plain-log.csv")
    _, batches = read_log("plain-log.csv")
    stages = [range(len(b.readings)) for b in batches]
    x = prior.copy()
    for turn in range(100):
        c = natural(x)
        bend, slope = np.diag(1 / spread**2), (x - prior) / spread**2
        for b, read in zip(batches, stages):
            share = np.array([scatter_share(model, c, b, s) for s in read])
            g = np.array([input_slopes(model, c, b, s, UNCERTAINTIES) for s in read])
            v = (UNCERTAINTIES["dough_k"] ** 2 * np.eye(len(read)) + g @ g.T
                 + TAU**2 * np.outer(share, share))
            r = np.array([np.real(dough_c(model, c, b, s)) - b.readings[s] for s in read])
            j = np.array([gradient(lambda x: dough_c(model, natural(x), b, s), x) for s in read])
            bend = bend + j.T @ np.linalg.inv(v) @ j
            slope = slope + j.T @ np.linalg.inv(v) @ r
        step = -np.linalg.solve(bend, slope)
        x = x + step
        if np.abs(step / spread).max() < 1e-14:
            break
    print("several: turns", turn + 1, "last move", np.abs(step / spread).max())
    return {"names": names, "mode": list(x), "spreads": list(spread), "scatter_k": TAU}


results = {"numpy": np.__version__, "scipy": scipy.__version__, "plain": plain(), "prior": prior(),
           "several": several()}
with open("fits.json", "w", newline="\n") as file:
    json.dump(results, file, indent=1)
    file.write("\n")
