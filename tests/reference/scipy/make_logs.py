"""Writes plain-log.csv and prior-log.csv: invented batches with noise.

    python make_logs.py

Needs numpy. The plain log varies everything, so that all eight coefficients can be told
from it alone; every batch of the log for the fit with priors is read once, they are of
three flours, and one of its readings is mistyped by a few degrees.
"""

import numpy as np

from kitchen import COMMON, Model, dough_c, read_log

TRUTH = dict(zip(["friction_low", "friction_high"] + COMMON,
                 [22.0, 48.0, 0.9, 4.0, 14.2, 0.06, 1.1, 0.017])) | {"dough_friction_rye": 1.12}
FLOURS = ("strong", "rye", "strong", "soft")
COLUMNS = ("batch,flour,flour_kg,flour_c,water_kg,water_c,ice_kg,ice_c,preferment_kg,preferment_c,"
           "preferment_hydration,salt_kg,sugar_kg,fat_kg,room_c,bowl_c,minutes_low,"
           "minutes_rest,minutes_high,dough_c").split(",")


def plan(rng, i, twice, flours):
    kg = round(rng.uniform(3.0, 10.0), 2)
    water = round(kg * rng.uniform(0.55, 0.8), 2)
    row = {"batch": str(i + 1), "flour": flours[i % len(flours)], "flour_kg": kg, "flour_c": round(rng.uniform(5, 28), 1),
           "water_kg": water, "water_c": round(rng.uniform(6, 30), 1),
           "salt_kg": round(0.02 * kg, 3), "room_c": round(rng.uniform(14, 33), 1),
           "minutes_low": round(rng.uniform(1, 9), 1), "minutes_high": round(rng.uniform(0, 10), 1)}
    if i % 4 == 1:
        row |= {"ice_kg": round(0.1 * water, 2), "ice_c": -8.0}
    if i % 4 == 2:
        row |= {"preferment_kg": round(0.3 * kg, 2), "preferment_c": 6.5,
                "preferment_hydration": 0.8, "fat_kg": round(0.03 * kg, 3)}
    if i % 5 == 3:
        row |= {"bowl_c": round(rng.uniform(5, 45), 1), "sugar_kg": round(0.05 * kg, 3)}
    if i % 5 == 0:
        row |= {"minutes_rest": round(rng.uniform(10, 60), 0)}
    later = None
    if twice:
        later = {"batch": row["batch"], "minutes_low": row["minutes_low"],
                 "minutes_rest": row.get("minutes_rest", 0) + (40 if i % 6 == 0 else 0),
                 "minutes_high": round(row["minutes_high"] + rng.uniform(2, 8), 1)}
    return [row] + ([later] if later else [])


def write(name, seed, batches, twice, noise_k, mistyped, flours):
    rng = np.random.default_rng(seed)
    rows = [r for i in range(batches) for r in plan(rng, i, twice(i), flours)]

    columns = [c for c in COLUMNS if c != "flour" or any(flours)]

    def save():
        with open(name, "w", newline="\n") as file:
            file.write(",".join(columns) + "\n")
            for row in rows:
                file.write(",".join(str(row.get(c, "")) for c in columns) + "\n")

    save()
    _, read = read_log(name)
    model = Model(max(b.mass_kg() for b in read))
    true_c = [dough_c(model, TRUTH, b, s) for b in read for s in range(len(b.stages))]
    for row, t in zip(rows, true_c):
        row["dough_c"] = round(float(t) + rng.normal(0, noise_k), 2)
    if mistyped is not None:
        rows[mistyped]["dough_c"] = round(rows[mistyped]["dough_c"] + 4, 2)
    save()


write("plain-log.csv", 1798, 16, lambda i: i % 2 == 0, 0.1, None, [""])
write("prior-log.csv", 1912, 14, lambda i: False, 0.5, 9, FLOURS)
