"""Forecasts batches from profile files alone and writes forecasts.json.

    python forecasts.py

Needs numpy and SciPy. Follows the text of the documentation of the crate's `forecast`
module, nothing else: it is the proof that a consumer in another language can compute
mean and interval from a profile. The batches are those of each profile's `self_test`,
but nothing of the answers there is read, and each is also forecast at other levels and,
halved into stages, after readings of the stages before.
"""

import glob
import json
import os

import numpy as np
import scipy
from scipy.optimize import brentq
from scipy.stats import norm, t as student_t

from kitchen import (STEP, Batch, Model, dose, dough_c, gradient, input_slopes, input_variance,
                     scatter_share)

PROFILES = "../../profile/written-by/1/*.profile.json"
FULL_GRADE = 0.95
# One reading in fifty is mistyped, off by some 20 °C.
SHARE, SPREAD = 0.02, 20.0


def batch_of(entry):
    charge = entry["charge"]
    batch = Batch(entry["id"], charge["room_c"], charge["bowl_c"], charge["flour_name"])
    for i in charge["ingredients"]:
        material, detail = i["material"], None
        if isinstance(material, dict):
            (material, inner), = material.items()
            detail, = inner.values()
        batch.ingredients.append((material, i["mass_kg"], i["temperature_c"], detail))
    for stage in entry["stages"]:
        batch.stages.append([(p["speed"], p["minutes"]) for p in stage["phases"]])
    return batch


def search(f, theta, sigma, sign, z, beside):
    """Steps of the module documentation; None where they do not settle."""
    def at(delta):
        g = sign * gradient(f, theta + delta)
        steep = np.sqrt(g @ sigma @ g + beside)
        return sign * float(np.real(f(theta + delta))), g, steep

    s, v, a = np.sqrt(beside), z, 0.0
    delta = np.zeros(len(theta))
    value, g, steep = at(delta)
    values = 1
    while True:
        reached, along = value + s * v, g @ delta + s * v
        promised, size = z * steep - along, max(abs(reached), 1.0)
        if not np.isfinite([reached, promised]).all():
            return None
        if promised <= 1e-12 * size:
            return float(sign * (reached + promised))
        while True:
            if values == 400:
                return None
            c = z / np.sqrt(steep**2 + 2 * a * along + a**2 * z**2)
            new, new_v = c * (sigma @ g + a * delta), c * (s + a * v)
            new_value, new_g, new_steep = at(new)
            values += 1
            gain = c * (steep**2 + a * along) - along
            gained = new_value + s * new_v - reached
            if np.isfinite(new_steep) and gained >= 0.1 * max(gain, 0.0) - 1e-13 * size:
                break
            a = max(2 * a, steep / z)
        bend = (new - delta) @ (new_g - g) / (2 * (z**2 - c * (along + a * z**2)))
        a = max(-bend, -0.5 * new_steep / z) if np.isfinite(bend) else 0.0
        delta, v, value, g, steep = new, new_v, new_value, new_g, new_steep


class Machine:
    def __init__(self, profile):
        reference = profile["model"]["reference"]
        self.model = Model(reference["usual_charge_kg"], reference["reference_hydration"],
                           reference["reference_c"], reference["constants"])
        self.models = profile["model"]
        self.values = {c["name"]: c["value"] for c in profile["coefficients"]}
        fitted = {c["name"]: c["fitted"] for c in profile["coefficients"]}
        covariance = profile["covariance"]
        self.free = covariance["coefficients"]
        self.logarithm = [s == "logarithm" for s in covariance["scales"]]
        self.theta = np.array([fitted[name] for name in self.free])
        self.sigma = None if covariance["matrix"] is None else np.array(covariance["matrix"])
        self.scatter = profile["scatter"]

    def coefficients(self, theta):
        moved = {n: np.exp(v) if is_log else v
                 for n, v, is_log in zip(self.free, theta, self.logarithm)}
        return self.values | moved

    def is_unknown(self, batch):
        """Whether its flour was never logged."""
        flour = any(m in ("flour", "preferment") for m, kg, _, _ in batch.ingredients if kg > 0)
        reference = self.models["reference_flour"]
        known = (None, reference, *self.models["flours"])
        return flour and reference is not None and batch.flour not in known

    def dough(self, batch, stage, level):
        f = lambda theta: dough_c(self.model, self.coefficients(theta), batch, stage)
        mean = float(np.real(f(self.theta)))
        if self.sigma is None:
            return mean, None
        spread, u = self.scatter["dough"], self.scatter["uncertainties"]
        at_theta = gradient(f, self.theta)
        known = at_theta @ self.sigma @ at_theta
        if spread["kind"] == "student-t":
            if spread["sd"] is None:
                return mean, None
            beside = spread["sd"] ** 2
            z = student_t.isf((1 - level) / 2, spread["dof"])
        else:
            c = self.coefficients(self.theta)
            n = u["dough_k"] ** 2 + input_variance(self.model, c, batch, stage, u,
                                                   self.is_unknown(batch))
            nodes = shared(spread["nodes"], scatter_share(self.model, c, batch, stage))
            x = mixture_quantile(nodes, known + n, level)
            beside = n + mean_square(nodes)
            z = x / np.sqrt(known + beside)
        tangent = z * np.sqrt(known + beside)
        interval = []
        for sign in (-1, 1):
            bound = search(f, self.theta, self.sigma, sign, z, beside)
            astray = bound is None or sign * (bound - mean) < 0.0
            interval.append(float(mean + sign * tangent if astray else bound))
        return mean, interval if np.isfinite(interval).all() else None

    def development(self, batch, stage, level):
        spread, u = self.scatter["development"], self.scatter["uncertainties"]
        if spread is None or not any(m in ("flour", "preferment")
                                     for m, kg, _, _ in batch.ingredients if kg > 0):
            return None, None
        of_flour = "flour_" + batch.flour if batch.flour in self.models["flours"] else None
        factor = lambda c: c[of_flour] if of_flour else 1.0

        def f(theta):
            c = self.coefficients(theta)
            return dose(self.model, c, batch, stage, factor(c))[0]

        c = self.coefficients(self.theta)
        x_dose, rates = dose(self.model, c, batch, stage, factor(c))
        grade = lambda x: -np.expm1(-x * np.log(20))
        d = float(np.real(grade(x_dose)))
        if self.sigma is None:
            return d, None
        by_theta = gradient(f, self.theta)
        if spread["kind"] == "student-t":
            if spread["sd"] is None:
                return d, None
            slope = np.log(20) * 20 ** -np.real(x_dose)
            half = student_t.isf((1 - level) / 2, spread["dof"]) * np.sqrt(
                slope**2 * (by_theta @ self.sigma @ by_theta) + spread["sd"] ** 2)
            return d, within(d - half, d + half)
        if x_dose <= 0:
            half = norm.isf((1 - level) / 2) * u["development"]
            return d, within(d - half, d + half)
        by_shift = np.imag(dose(self.model, c, batch, stage, factor(c), 1j * STEP)[0]) / STEP
        inputs = input_variance(self.model, c, batch, stage, u, self.is_unknown(batch))
        dough = self.scatter["dough"]
        tau2 = mean_square(dough["nodes"]) * scatter_share(self.model, c, batch, stage) ** 2
        v = (by_theta @ self.sigma @ by_theta + by_shift**2 * (inputs + tau2)
             + u["minutes_min"] ** 2 * (np.real(rates) ** 2).sum()) / np.real(x_dose) ** 2
        if self.is_unknown(batch):
            v += self.models["unknown_flour_spread"] ** 2
        x = mixture_quantile(spread["nodes"], v, level)
        z = x / np.sqrt(v + mean_square(spread["nodes"]))
        noise = z * u["development"]
        low = d - np.hypot(d - grade(x_dose * np.exp(-x)), noise)
        high = d + np.hypot(grade(x_dose * np.exp(x)) - d, noise)
        return d, within(low, high)


class OnTheWay:
    """The last stage of a batch after readings of the stages before it. `read` has
    (dough temperature or None, grade or None) of each. Written with whole matrices."""

    def __init__(self, machine, batch, read):
        self.machine, self.batch, self.read = machine, batch, read
        self.last = len(batch.stages) - 1
        stages = range(self.last + 1)
        m, u = machine, machine.scatter["uncertainties"]
        c = m.coefficients(m.theta)
        at = lambda stage: lambda theta: dough_c(m.model, m.coefficients(theta), batch, stage)
        self.f = [float(np.real(at(s)(m.theta))) for s in stages]
        self.g = np.array([gradient(at(s), m.theta) for s in stages])
        self.plain = m.scatter["dough"]["kind"] == "student-t"
        slopes = np.array([input_slopes(m.model, c, batch, s, u, m.is_unknown(batch))
                           for s in stages])
        self.inputs = slopes @ slopes.T * (0 if self.plain else 1)
        self.common = self.g @ m.sigma @ self.g.T + self.inputs
        share = np.array([scatter_share(m.model, c, batch, s) for s in stages])
        self.shares = np.outer(share, share) * (0 if self.plain else 1)
        self.taken = [s for s in stages if s < self.last and read[s][0] is not None]
        self.off = np.array([read[s][0] - self.f[s] for s in self.taken])

    def dough(self, level):
        m, o, last = self.machine, self.taken, self.last
        spread, u = m.scatter["dough"], m.scatter["uncertainties"]
        joint = lambda scatter, noise, mistyped=None: (
            self.common[np.ix_(o, o)] + scatter * self.shares[np.ix_(o, o)]
            + np.diag([noise + SPREAD**2 * (s == mistyped) for s in o]))
        p = len(m.theta)
        f = lambda theta: dough_c(m.model, m.coefficients(theta), self.batch, last)
        if self.plain:
            s2, dof = spread["sd"] ** 2, spread["dof"]
            inverse, b = np.linalg.inv(joint(0, s2)), self.common[last, o]
            share = (dof + self.off @ inverse @ self.off) / (dof + len(o))
            mean, beside = b @ inverse @ self.off, share * s2
            gs = m.sigma @ self.g[o].T
            sigma = share * (m.sigma - gs @ inverse @ gs.T)
            t = student_t.isf((1 - level) / 2, dof + len(o))
            sd = np.sqrt(share * (self.common[last, last] - b @ inverse @ b + s2))
            reach, theta, model = {-1: t * sd, 1: t * sd}, m.theta, f
            self.typical, self.tau2 = inverse, 0.0
        else:
            beside, parts = u["dough_k"] ** 2, []
            # Every reading at its word, or one of them mistyped.
            explanations = [None, *o]
            for mistyped, node in ((e, n) for e in explanations for n in spread["nodes"]):
                tau2 = node["sd"] ** 2
                s = joint(tau2, beside, mistyped)
                inverse, b = np.linalg.inv(s), self.common[last, o] + tau2 * self.shares[last, o]
                likely = -0.5 * (self.off @ inverse @ self.off + np.linalg.slogdet(s)[1])
                left = self.common[last, last] + tau2 * self.shares[last, last] - b @ inverse @ b
                odds = 1.0 if mistyped is None else SHARE / (1 - SHARE)
                parts.append((node["weight"] * odds, likely, b @ inverse @ self.off,
                              left + beside, tau2))
            weights = posterior(parts)
            means, variances = (np.array([q[i] for q in parts]) for i in (2, 3))
            mean = weights @ means
            # On the tangent, the likeliest explanation alone.
            by_explanation = weights.reshape(len(explanations), -1)
            likeliest = by_explanation.sum(axis=1).argmax()
            own = by_explanation[likeliest] / by_explanation[likeliest].sum()
            self.tau2 = own @ np.array([n["sd"] ** 2 for n in spread["nodes"]])
            mistyped = explanations[likeliest]
            self.typical = inverse = np.linalg.inv(joint(self.tau2, beside, mistyped))
            # Of the coefficients and of what the batch's readings share.
            prior = np.zeros((p + 1, p + 1))
            prior[:p, :p] = m.sigma
            own = self.inputs + self.tau2 * self.shares
            prior[p, p] = own[last, last]
            cross = np.vstack([m.sigma @ self.g[o].T, own[last, o]])
            sigma = prior - cross @ inverse @ cross.T
            reach = {s: shifted_quantile(weights, s * means, variances, level) - s * mean
                     for s in (-1, 1)}
            theta, model = np.append(m.theta, 0.0), lambda t: f(t[:p]) + t[p]
        g = gradient(model, theta)
        sd = np.sqrt(g @ sigma @ g + beside)
        interval = []
        for sign in (-1, 1):
            bound = search(model, theta, sigma, sign, reach[sign] / sd, beside)
            interval.append(float(
                mean + (self.f[last] + sign * reach[sign] if bound is None else bound)))
        return float(self.f[last] + mean), interval

    def development(self, level):
        """After `dough`, whose typical covariance it takes."""
        m, o, last, batch = self.machine, self.taken, self.last, self.batch
        spread, u = m.scatter["development"], m.scatter["uncertainties"]
        if spread is None:
            return None, None
        of_flour = "flour_" + batch.flour if batch.flour in m.models["flours"] else None
        factor = lambda c: c[of_flour] if of_flour else 1.0
        unknown = m.is_unknown(batch)

        def x(stage, theta=m.theta, shift=0.0):
            c = m.coefficients(theta)
            return dose(m.model, c, batch, stage, factor(c), shift)

        stages = range(last + 1)
        doses = np.array([np.real(x(s)[0]) for s in stages])
        rates = [(np.real(x(s)[1]) ** 2).sum() for s in stages]
        by = np.array([gradient(lambda t: x(s, t)[0], m.theta) for s in stages]) / doses[:, None]
        shift = np.array([np.imag(x(s, m.theta, 1j * STEP)[0]) for s in stages]) / STEP / doses
        own = self.inputs + self.tau2 * self.shares
        p = by @ m.sigma @ by.T + np.outer(shift, shift) * own
        if not self.plain:
            p += unknown * m.models["unknown_flour_spread"] ** 2
            for i in stages:
                for j in stages:
                    p[i, j] += u["minutes_min"] ** 2 * rates[min(i, j)] / doses[i] / doses[j]
        with_dough = by @ m.sigma @ self.g[o].T + shift[:, None] * own[:, o]
        doses = doses * np.exp(with_dough @ self.typical @ self.off)
        p = p - with_dough @ self.typical @ with_dough.T
        grade = lambda x: -np.expm1(-x * np.log(20))
        grades, off = [], []
        for s in range(last):
            given = self.read[s][1]
            if given is None or (given >= 0.995 and grade(doses[s]) >= FULL_GRADE):
                continue
            grades.append(s)
            off.append((FULL_GRADE if given >= 0.995 else given) - grade(doses[s]))
        off = np.array(off)
        slope = (np.log(20) * 20 ** -doses * doses)
        d = np.diag(slope[grades])

        def after(tau2, noise):
            s = d @ (p[np.ix_(grades, grades)] + tau2) @ d + noise * np.eye(len(grades))
            inverse, b = np.linalg.inv(s), (p[last, grades] + tau2) @ d
            return (-0.5 * (off @ inverse @ off + np.linalg.slogdet(s)[1]), b @ inverse @ off,
                    p[last, last] + tau2 - b @ inverse @ b, off @ inverse @ off)

        if self.plain:
            s2, dof = spread["sd"] ** 2, spread["dof"]
            _, mean, variance, distance = after(0.0, s2)
            x_dose = doses[last] * np.exp(mean)
            share = (dof + distance) / (dof + len(grades))
            slope = np.log(20) * 20**-x_dose * x_dose
            half = student_t.isf((1 - level) / 2, dof + len(grades)) * np.sqrt(
                share * (slope**2 * variance + s2))
            at = float(grade(x_dose))
            return at, within(at - half, at + half)
        parts = [(n["weight"], *after(n["sd"] ** 2, u["development"] ** 2))
                 for n in spread["nodes"]]
        weights = posterior(parts)
        means, variances = (np.array([q[i] for q in parts]) for i in (2, 3))
        x_dose = doses[last] * np.exp(weights @ means)
        at, sd, ends = float(grade(x_dose)), np.sqrt(weights @ variances), []
        for sign in (-1, 1):
            x = shifted_quantile(weights, sign * means, variances, level) - sign * (weights @ means)
            ends.append(at + sign * np.hypot(grade(x_dose * np.exp(sign * x)) - at,
                                             x / sd * u["development"]))
        return at, within(*ends)


def posterior(parts):
    likely = np.array([q[1] for q in parts])
    weights = np.array([q[0] for q in parts]) * np.exp(likely - likely.max())
    return weights / weights.sum()


def shifted_quantile(weights, means, variances, level):
    sds = np.sqrt(variances)
    above = lambda x: weights @ norm.sf((x - means) / sds) - (1 - level) / 2
    far = np.abs(means).max() + 40 * sds.max()
    return brentq(above, -far, far, xtol=1e-14, rtol=8.9e-16)


def halved(batch):
    """Every phase in two stages of half its minutes."""
    stages = [[(speed, minutes / 2)] for stage in batch.stages for speed, minutes in stage
              for _ in (0, 1)]
    return Batch(batch.name, batch.room_c, batch.bowl_c, batch.flour, batch.ingredients, stages)


def within(low, high):
    return [float(np.clip(low, 0, 1)), 1.0 if high >= FULL_GRADE else float(max(high, 0))]


def shared(nodes, share):
    """The scatter's nodes as a dough with this share of it has them."""
    return [{"sd": share * n["sd"], "weight": n["weight"]} for n in nodes]


def mean_square(nodes):
    return sum(n["weight"] * n["sd"] ** 2 for n in nodes)


def mixture_quantile(nodes, variance, level):
    above = lambda x: sum(n["weight"] * norm.sf(x / np.sqrt(variance + n["sd"] ** 2))
                          for n in nodes) - (1 - level) / 2
    widest = np.sqrt(variance + max(n["sd"] for n in nodes) ** 2)
    return brentq(above, 0.0, 40 * widest, xtol=1e-14, rtol=8.9e-16)


# By how much the readings of a batch on its way differ from what was forecast before any of
# them, °C, and the grades given; the last stage is forecast. One is mistyped.
READINGS = [
    [(0.6, 0.3), (14.0, None)],
    [(0.7, 0.3)],
    [(-0.9, None), (None, 0.4), (-1.2, 0.2)],
    [(None, 0.1), (None, 0.3)],
    [(0.0, None), (2.5, 1.0), (2.0, None)],
]

results = {"numpy": np.__version__, "scipy": scipy.__version__, "profiles": {}, "on_the_way": {}}
for name in sorted(glob.glob(PROFILES)):
    print(name)
    with open(name) as file:
        profile = json.load(file)
    machine, forecasts = Machine(profile), []
    for index, test in enumerate(profile["self_test"]):
        batch = batch_of(test["batch"])
        stage = len(batch.stages) - 1
        for level in (0.95, 0.8, 0.999, 0.999999):
            mean, interval = machine.dough(batch, stage, level)
            development, of_development = machine.development(batch, stage, level)
            forecasts.append({
                "batch": index, "flour": batch.flour, "level": level, "dough_c": mean,
                "dough_interval_c": interval, "development": development,
                "development_interval": of_development})
    results["profiles"][os.path.basename(name)] = forecasts
    on_the_way = []
    for index, test in enumerate(profile["self_test"]):
        whole = halved(batch_of(test["batch"]))
        for number, offsets in enumerate(READINGS):
            batch = Batch(**vars(whole) | {"stages": whole.stages[:len(offsets) + 1]})
            # A flour that was never logged, too.
            batch.flour = "never milled" if number == 1 else batch.flour
            # The same conditions for the short batches of one speed.
            offsets = offsets[:len(batch.stages) - 1]
            read = [(None if off is None else round(
                float(np.real(dough_c(machine.model, machine.coefficients(machine.theta),
                                      batch, s))) + off, 2), grade)
                    for s, (off, grade) in enumerate(offsets)]
            forecast = OnTheWay(machine, batch, read)
            mean, interval = forecast.dough(0.95)
            development, of_development = forecast.development(0.95)
            on_the_way.append({
                "batch": index, "flour": batch.flour, "read": read, "level": 0.95, "dough_c": mean,
                "dough_interval_c": interval, "development": development,
                "development_interval": of_development})
    results["on_the_way"][os.path.basename(name)] = on_the_way
with open("forecasts.json", "w", newline="\n") as file:
    json.dump(results, file, indent=1)
    file.write("\n")
