"""Forecasts batches from profile files alone and writes forecasts.json.

    python forecasts.py

Needs numpy and SciPy. Follows the text of the documentation of the crate's `forecast`
module, nothing else: it is the proof that a consumer in another language can compute
mean and interval from a profile. The batches are those of each profile's `self_test`,
but nothing of the answers there is read, and each is also forecast at a level of 0.8.
"""

import glob
import json
import os

import numpy as np
import scipy
from scipy.optimize import brentq
from scipy.stats import norm, t as student_t

from kitchen import STEP, Batch, Model, dose, dough_c, gradient, input_variance

PROFILES = "../../profile/written-by/1/*.profile.json"
FULL_GRADE = 0.95


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
            n = u["dough_k"] ** 2 + input_variance(
                self.model, self.coefficients(self.theta), batch, stage, u)
            x = mixture_quantile(spread["nodes"], known + n, level)
            beside = n + mean_square(spread["nodes"])
            z = x / np.sqrt(known + beside)
        tangent = z * np.sqrt(known + beside)
        interval = []
        for sign in (-1, 1):
            bound = self.bound(f, sign * z, beside)
            sound = np.isfinite(bound) and sign * (bound - mean) > 0
            interval.append(bound if sound else float(mean + sign * tangent))
        return mean, interval if np.isfinite(interval).all() else None

    def bound(self, f, z, beside):
        delta, bound = np.zeros(len(self.theta)), np.nan
        for step in range(60):
            g = gradient(f, self.theta + delta)
            s = np.sqrt(g @ self.sigma @ g + beside)
            new = np.real(f(self.theta + delta)) - g @ delta + z * s
            if abs(new - bound) <= 1e-12 * max(abs(new), 1.0):
                return float(new)
            bound = new
            if not np.isfinite(new):
                break
            share = 1.0 if step < 8 else 0.5
            delta = delta + share * (z * (self.sigma @ g) / s - delta)
        return float(bound)

    def development(self, batch, stage, level):
        spread, u = self.scatter["development"], self.scatter["uncertainties"]
        if spread is None or not any(m in ("flour", "preferment")
                                     for m, kg, _, _ in batch.ingredients if kg > 0):
            return None, None
        known_flour = batch.flour in (None, self.models["reference_flour"])
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
        inputs = input_variance(self.model, c, batch, stage, u)
        dough = self.scatter["dough"]
        tau2 = mean_square(dough["nodes"])
        v = (by_theta @ self.sigma @ by_theta + by_shift**2 * (inputs + tau2)
             + u["minutes_min"] ** 2 * (np.real(rates) ** 2).sum()) / np.real(x_dose) ** 2
        if not known_flour and not of_flour:
            v += self.models["unknown_flour_spread"] ** 2
        x = mixture_quantile(spread["nodes"], v, level)
        z = x / np.sqrt(v + mean_square(spread["nodes"]))
        noise = z * u["development"]
        low = d - np.hypot(d - grade(x_dose * np.exp(-x)), noise)
        high = d + np.hypot(grade(x_dose * np.exp(x)) - d, noise)
        return d, within(low, high)


def within(low, high):
    return [float(np.clip(low, 0, 1)), 1.0 if high >= FULL_GRADE else float(max(high, 0))]


def mean_square(nodes):
    return sum(n["weight"] * n["sd"] ** 2 for n in nodes)


def mixture_quantile(nodes, variance, level):
    above = lambda x: sum(n["weight"] * norm.sf(x / np.sqrt(variance + n["sd"] ** 2))
                          for n in nodes) - (1 - level) / 2
    widest = np.sqrt(variance + max(n["sd"] for n in nodes) ** 2)
    return brentq(above, 0.0, 40 * widest, xtol=1e-14, rtol=8.9e-16)


results = {"numpy": np.__version__, "scipy": scipy.__version__, "profiles": {}}
for name in sorted(glob.glob(PROFILES)):
    print(name)
    with open(name) as file:
        profile = json.load(file)
    machine, forecasts = Machine(profile), []
    for index, test in enumerate(profile["self_test"]):
        batch = batch_of(test["batch"])
        stage = len(batch.stages) - 1
        for level in (0.95, 0.8):
            mean, interval = machine.dough(batch, stage, level)
            development, of_development = machine.development(batch, stage, level)
            forecasts.append({
                "batch": index, "level": level, "dough_c": mean, "dough_interval_c": interval,
                "development": development, "development_interval": of_development})
    results["profiles"][os.path.basename(name)] = forecasts
with open("forecasts.json", "w", newline="\n") as file:
    json.dump(results, file, indent=1)
    file.write("\n")
