"""SciPy's time for the problem of `benches/solver.rs`, to be read beside that bench.

    cargo bench --bench solver -- "cold, 12 rows"
    python benches/three_coefficients.py

a + b exp(-k x) against 12, 1000 and a million readings, from the same start, with the
analytic Jacobian and tight tolerances. Needs numpy and scipy.
"""

import statistics
import time

import numpy
from scipy.optimize import least_squares

START = (25.0, -5.0, 0.2)


def problem(count):
    """The readings of `benches/solver.rs`, made-up noise included."""
    i = numpy.arange(count)
    x = 12.0 * (i + 0.5) / count
    noise = 0.2 * numpy.fmod(numpy.sin(i * 12.9898) * 43758.5453, 1.0)
    y = 26.0 - 8.0 * numpy.exp(-0.3 * x) + noise

    def residuals(c):
        return c[0] + c[1] * numpy.exp(-c[2] * x) - y

    def jacobian(c):
        decay = numpy.exp(-c[2] * x)
        return numpy.stack([numpy.ones_like(x), decay, -x * c[1] * decay], axis=1)

    return residuals, jacobian


def main():
    for count, runs in [(12, 2000), (1000, 500), (1_000_000, 3)]:
        residuals, jacobian = problem(count)
        for method in ["lm", "trf"]:
            times = []
            for _ in range(runs):
                begin = time.perf_counter()
                found = least_squares(
                    residuals, START, jac=jacobian, method=method, xtol=1e-11, ftol=1e-15, gtol=1e-15
                )
                times.append(time.perf_counter() - begin)
            print(
                f"{count} rows, {method}: median {1e6 * statistics.median(times):.1f} µs, "
                f"least {1e6 * min(times):.1f} µs, {found.nfev} evaluations, {found.x}"
            )


if __name__ == "__main__":
    main()
