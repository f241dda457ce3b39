"""The heat balance and the development model, written from their documentation alone.

Equations: the module documentation of `thermal` and `development` in the crate
`kneadfit`. Everything is plain arithmetic that also takes complex numbers, so that
derivatives are complex steps, exact to rounding, and share nothing with the analytic
ones of the crate.
"""

import csv
from dataclasses import dataclass, field

import numpy as np

# Coefficients that a log without priors leaves wide open may overflow on the way.
np.seterr(over="ignore", invalid="ignore", divide="ignore")

FLOUR, WATER, ICE, PREFERMENT, SALT, SUGAR, FAT, OTHER = (
    "flour", "water", "ice", "preferment", "salt", "sugar", "fat", "other")
AT_ROOM = (SALT, SUGAR, FAT)

CONSTANTS = {
    "flour_kj_per_kg_k": 1.84,
    "water_kj_per_kg_k": 4.185,
    "ice_kj_per_kg_k": 1.958,
    "ice_latent_kj_per_kg": 333.55,
    "salt_kj_per_kg_k": 0.88,
    "salt_solution_kj_per_kg": 66.0,
    "sugar_kj_per_kg_k": 1.24,
    "sugar_solution_kj_per_kg": 16.0,
    "fat_kj_per_kg_k": 2.2,
}

COMMON = ["exchange", "bowl", "wetting", "charge_exponent", "stiffness", "softening"]


@dataclass
class Batch:
    """ingredients: (material, kg, °C, detail); stages: lists of (speed, minutes)."""

    name: str
    room_c: float
    bowl_c: float | None = None
    flour: str | None = None
    ingredients: list = field(default_factory=list)
    stages: list = field(default_factory=list)
    readings: list = field(default_factory=list)

    def mass_kg(self):
        return sum(kg for _, kg, _, _ in self.ingredients)

    def phases(self):
        """(stage, speed, minutes) of every phase that lasts."""
        return [(i, s, t) for i, stage in enumerate(self.stages) for s, t in stage if t > 0]


@dataclass
class Model:
    usual_charge_kg: float
    reference_hydration: float = 0.65
    reference_c: float = 24.0
    constants: dict = field(default_factory=lambda: dict(CONSTANTS))

    def dough_kj_per_kg_k(self, hydration):
        c = self.constants
        return (c["flour_kj_per_kg_k"] + hydration * c["water_kj_per_kg_k"]) / (1 + hydration)


def inputs_of(batch, unknown_flour=False):
    """The logged inputs that a batch depends on, as keys of `moved` in `path`; a flour that was
    never logged is one more."""
    has = {m for m, kg, _, _ in batch.ingredients if kg > 0}
    found = [(m + "_c",) for m in (FLOUR, WATER, PREFERMENT, OTHER) if m in has]
    found.append(("room_c",))
    if batch.bowl_c is not None:
        found.append(("bowl_c",))
    found += [(m + "_scale",) for m in (FLOUR, WATER, ICE) if m in has]
    found += [("flour_friction",)] if unknown_flour else []
    found += [("minutes", i) for i in range(len(batch.phases()))]
    return found


def uncertainty_of(key, u):
    kind = key[0]
    return {
        "flour_c": u["flour_k"], "preferment_c": u["flour_k"], "other_c": u["flour_k"],
        "water_c": u["water_k"], "room_c": u["room_k"], "bowl_c": u["room_k"],
        "flour_scale": u["scale_relative"], "water_scale": u["scale_relative"],
        "ice_scale": u["ice_relative"], "minutes": u["minutes_min"],
        "flour_friction": u["flour_friction"],
    }[kind]


def decay(x):
    """(1 − e^(−x)) / x."""
    return 1.0 if x == 0 else -np.expm1(-x) / x


@dataclass
class Leg:
    stage: int
    speed: str
    minutes: complex
    start_c: complex
    rate: complex
    drive: complex

    def at(self, minutes):
        x = self.rate * minutes
        if np.real(x) > 50:  # nothing is left of the start; x² may be infinite
            return self.drive / self.rate
        return self.start_c * np.exp(-x) + self.drive * minutes * decay(x)


def path(model, c, batch, moved=None):
    """The start temperature and every phase as a Leg; `c` by name, `moved` by input."""
    moved = moved or {}
    d = lambda *key: moved.get(key, 0.0)
    k = model.constants
    room_c = batch.room_c + d("room_c")
    bowl_c = room_c if batch.bowl_c is None else batch.bowl_c + d("bowl_c")
    capacity = c["bowl"]
    heat = c["bowl"] * bowl_c
    mass = flour_kg = water_kg = 0.0
    for material, kg, temperature_c, detail in batch.ingredients:
        kg = kg * (1 + d(material + "_scale"))
        t = temperature_c + (d("room_c") if material in AT_ROOM else d(material + "_c"))
        if material == FLOUR:
            held = k["flour_kj_per_kg_k"]
            heat = heat + c["wetting"] * kg
            flour_kg = flour_kg + kg
        elif material in (WATER, ICE):
            held = k["water_kj_per_kg_k"]
            water_kg = water_kg + kg
            if material == ICE:
                heat = heat - kg * (k["ice_latent_kj_per_kg"]
                                    + k["ice_kj_per_kg_k"] * abs(temperature_c))
                t = 0.0
        elif material == PREFERMENT:
            held = model.dough_kj_per_kg_k(detail)
            flour_kg = flour_kg + kg / (1 + detail)
            water_kg = water_kg + kg * detail / (1 + detail)
        elif material in (SALT, SUGAR):
            held = k[material + "_kj_per_kg_k"]
            heat = heat - kg * k[material + "_solution_kj_per_kg"]
        elif material == FAT:
            held = k["fat_kj_per_kg_k"]
        else:
            held = detail
        mass = mass + kg
        capacity = capacity + kg * held
        heat = heat + kg * held * t
    is_dough = np.real(flour_kg) > 0
    stiff = np.exp(-c["stiffness"] * (water_kg / flour_kg - model.reference_hydration)) if is_dough else 1.0
    softening = c["softening"] if is_dough else 0.0
    load = np.exp(c["charge_exponent"] * np.log(mass / model.usual_charge_kg))
    flour = c.get(f"dough_friction_{batch.flour}", 1.0) * np.exp(d("flour_friction"))
    power_kg = mass * load * stiff * (flour if is_dough else 1.0)
    exchange = c["exchange"] * mass ** (2 / 3)
    dough_c = start_c = heat / capacity
    legs = []
    for i, (stage, speed, minutes) in enumerate(batch.phases()):
        watt = 0.0 if speed == "rest" else c["friction_" + speed] * power_kg
        rate = 0.06 / capacity * (watt * softening + exchange)
        drive = 0.06 / capacity * (watt * (1 + softening * model.reference_c) + exchange * room_c)
        leg = Leg(stage, speed, minutes + d("minutes", i), dough_c, rate, drive)
        legs.append(leg)
        dough_c = leg.at(leg.minutes)
    return start_c, legs


def dough_c(model, c, batch, stage, moved=None):
    """Dough temperature at the end of a stage."""
    start_c, legs = path(model, c, batch, moved)
    before = [leg for leg in legs if leg.stage <= stage]
    return before[-1].at(before[-1].minutes) if before else start_c


NODES, WEIGHTS = np.polynomial.legendre.leggauss(24)


def dose(model, c, batch, stage, flour=1.0, shift_k=0.0):
    """Development dose at the end of a stage, and dX/dt at the end of every phase; the
    whole temperature path is moved by `shift_k`."""
    total, rates = 0.0, []
    speed_up = lambda t: c["q10"] ** ((t + shift_k - 24.0) / 10)
    for leg in path(model, c, batch)[1]:
        if leg.stage > stage:
            continue
        rate = flour * c["development_" + ("at_rest" if leg.speed == "rest" else leg.speed)]
        # Panels of a few minutes: 24 nodes are exact to rounding on each.
        panels = int(np.ceil(leg.minutes / 8.0))
        width = leg.minutes / panels
        for panel in range(panels):
            for node, weight in zip(NODES, WEIGHTS):
                minutes = (panel + 0.5 * (node + 1)) * width
                total = total + 0.5 * weight * width * rate * speed_up(leg.at(minutes))
        rates.append(rate * speed_up(leg.at(leg.minutes)))
    return total, rates


STEP = 1e-40


def gradient(f, at):
    """Complex-step gradient of a function of a list."""
    slopes = []
    for i in range(len(at)):
        moved = [complex(v) for v in at]
        moved[i] += 1j * STEP
        slopes.append(np.imag(f(moved)) / STEP)
    return np.array(slopes)


def input_slopes(model, c, batch, stage, u, unknown_flour=False):
    """What one standard deviation of each input does to the dough temperature."""
    return np.array([uncertainty_of(key, u) / STEP
                     * np.imag(dough_c(model, c, batch, stage, {key: 1j * STEP}))
                     for key in inputs_of(batch, unknown_flour)])


def input_variance(model, c, batch, stage, u, unknown_flour=False):
    """What thermometers, scale and clock make of the dough temperature's variance."""
    return (input_slopes(model, c, batch, stage, u, unknown_flour) ** 2).sum()


def scatter_share(model, c, batch, stage):
    """The share of its batch's scatter that a dough has, by how much friction has warmed it."""
    rubbed = {n: v * (1 + 1j * STEP) if n.startswith("friction_") else v for n, v in c.items()}
    warmth_k = np.imag(dough_c(model, rubbed, batch, stage)) / STEP
    return np.hypot(0.3, warmth_k / 10)


def read_log(name):
    """A log of one machine: speeds in order, batches with their readings."""
    batches = {}
    with open(name, newline="") as file:
        rows = csv.DictReader(file)
        minutes = [n for n in rows.fieldnames if n.startswith("minutes_")]
        for row in rows:
            number = lambda key: float(row[key]) if row.get(key) else None
            if row["batch"] not in batches:
                room_c = number("room_c")
                batch = Batch(row["batch"], room_c, number("bowl_c"), row.get("flour") or None)
                for material in (FLOUR, WATER, ICE, PREFERMENT, SALT, SUGAR, FAT):
                    if number(material + "_kg"):
                        t = room_c if material in AT_ROOM else number(material + "_c")
                        detail = number("preferment_hydration") if material == PREFERMENT else None
                        batch.ingredients.append((material, number(material + "_kg"), t, detail))
                batch.so_far = dict.fromkeys(minutes, 0.0)
                batches[row["batch"]] = batch
            batch = batches[row["batch"]]
            stage = []
            for key in minutes:
                now = number(key) if row[key] else batch.so_far[key]
                stage.append((key.removeprefix("minutes_"), now - batch.so_far[key]))
                batch.so_far[key] = now
            batch.stages.append(stage)
            batch.readings.append(number("dough_c"))
    speeds = [m.removeprefix("minutes_") for m in minutes if m != "minutes_rest"]
    return speeds, list(batches.values())
