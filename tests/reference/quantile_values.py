"""Writes quantile_values.csv: distribution functions to 17 digits.

    python tests/reference/quantile_values.py > tests/reference/quantile_values.csv

Needs mpmath and SciPy. The values are mpmath's, computed with 60 digits from
the incomplete beta and gamma functions; SciPy's double-precision answers are
computed beside them and must agree to 1e-8 relative (its own accuracy in far
tails), so that a slip in a formula here would be noticed. Also re-derives the
series of the ratio of gamma functions that the Student density uses.
"""

from mpmath import betainc, erfc, exp, findroot, gammainc, log, loggamma, mp, mpf, nstr, sqrt
from scipy import stats

mp.dps = 60


def check(value, scipy_value, what):
    if value > 1e-290 and abs(scipy_value / float(value) - 1) > 1e-8:
        raise SystemExit(f"{what}: mpmath {nstr(value, 17)}, SciPy {scipy_value}")


def line(kind, x, dof, value):
    print(f"{kind},{x!r},{dof!r},{nstr(value, 17)}")


def normal_below(x):
    return erfc(-mpf(x) / sqrt(2)) / 2


def t_above(t, dof):
    t, dof = mpf(t), mpf(dof)
    x = dof / (dof + t * t)
    return betainc(dof / 2, mpf(1) / 2, 0, x, regularized=True) / 2


def t_root(tail, dof, start):
    # In logarithms, where the tail is nearly a line.
    f = lambda u: log(t_above(exp(u), dof)) - log(tail)
    return exp(findroot(f, log(mpf(start))))


print("kind,x,dof,value")
for x in [-38.0, -30.0, -20.0, -10.0, -8.3, -5.0, -3.0, -1.96, -1.0, -0.5, -1e-3, 0.3, 1.0, 2.0, 6.0]:
    value = normal_below(x)
    check(value, stats.norm.cdf(x), f"normal {x}")
    line("normal_cdf", x, 0.0, value)
for p in [1e-300, 1e-100, 1e-20, 1e-10, 1e-5, 0.001, 0.025, 0.1, 0.2499, 0.25, 0.3, 0.4999, 0.5000001, 0.6, 0.8, 0.95, 0.999]:
    guess = stats.norm.ppf(p)
    value = findroot(lambda x: log(normal_below(x)) - log(mpf(p)), mpf(float(guess)))
    check(abs(value), abs(guess), f"normal quantile {p}")
    line("normal_quantile", p, 0.0, value)
DOFS = [0.1, 0.5, 1.0, 1.5, 2.0, 3.0, 4.7, 10.0, 30.0, 100.5, 1000.0, 1e5, 2e6, 1e8]
for dof in DOFS:
    for t in [1e-6, 0.1, 1.0, 1.7, 1.8, 2.5, 5.0, 12.0, 40.0, 1e4]:
        value = t_above(t, dof)
        if value < mpf("1e-290"):
            continue
        if dof < 1e7:
            check(value, stats.t.sf(t, dof), f"t {t} {dof}")
        line("student_tail", t, dof, value)
    for p in [1e-12, 1e-6, 0.0005, 0.005, 0.025, 0.1, 0.2, 0.26, 0.4, 0.4999]:
        guess = stats.t.isf(p, dof)
        if not guess < 1e200:
            continue
        value = t_root(mpf(p), dof, guess)
        line("student_quantile_of_tail", p, dof, value)
for dof in [0.5, 1.0, 2.0, 5.0, 11.0, 30.0, 33.0, 100.0, 1234.5, 1e5]:
    for factor in [0.01, 0.3, 0.9, 1.0, 1.1, 2.0, 4.0]:
        if dof > 1e4 and factor > 1.1:
            continue  # below 1e-290, and mpmath's series does not converge
        x = dof * factor
        below = gammainc(mpf(dof) / 2, 0, mpf(x) / 2, regularized=True)
        above = gammainc(mpf(dof) / 2, mpf(x) / 2, regularized=True)
        if below > mpf("1e-290"):
            check(below, stats.chi2.cdf(x, dof), f"chi2 {x} {dof}")
            line("chi_squared_cdf", x, dof, below)
        if above > mpf("1e-290"):
            check(above, stats.chi2.sf(x, dof), f"chi2 tail {x} {dof}")
            line("chi_squared_tail", x, dof, above)

# Gamma(a + 1/2) / (Gamma(a) sqrt(a)) in powers of 1/a, as student.rs has it.
series = [1, -mpf(1) / 8, mpf(1) / 128, mpf(5) / 1024, -mpf(21) / 32768, -mpf(399) / 262144,
          mpf(869) / 4194304, mpf(39325) / 33554432]
for a in [mpf(200), mpf(800)]:
    exact = exp(loggamma(a + mpf(1) / 2) - loggamma(a)) / sqrt(a)
    rest = exact - sum(c / a**k for k, c in enumerate(series))
    if abs(rest * a ** len(series)) > 1e-3:
        raise SystemExit(f"the series is wrong at {a}: {nstr(rest, 5)}")
