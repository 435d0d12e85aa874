"""Writes tests/data/kinetics-fits.json: courses fitted to made-up changes, by a library that is not ours.

mpmath 1.3.0, 30 digits: Newton's method (`findroot`) on the gradient of chi-square over all parameters at once, shape and change
together; standard uncertainties from the inverse of half of the expected Hessian (Fisher's information). The program solves for the
change by least squares inside a search for the shape: another way to the same minimum.
"""

import json
import pathlib
import random

import mpmath as mp

mp.mp.dps = 30
RANDOM = random.Random(20260102)
OUT = pathlib.Path("tests/data/kinetics-fits.json")
NAMES = {"linear": [], "plateau": ["rate"], "power": ["exponent"]}


def course(model, dose, shape):
    """How far along at a dose, and its derivative by the shape's parameter."""
    if model == "linear":
        return dose, mp.mpf(0)
    if model == "plateau":
        return 1 - mp.exp(-shape * dose), dose * mp.exp(-shape * dose)
    return dose**shape, mp.log(dose) * dose**shape


def covariance(sd):
    """Leaning, and unlike in its directions; five decimals."""
    mix = mp.matrix(3, 3)
    for i in range(3):
        for j in range(3):
            mix[i, j] = RANDOM.gauss(1 if i == j else 0, 0.3)
    raw = mix * mix.T * sd**2
    return [[round(float(raw[i, j]), 5) for j in range(3)] for i in range(3)]


def points(model, shape, doses, change, sd):
    """Changes measured at the doses, four decimals, with their covariances and what all share."""
    shared, own = covariance(0.7 * sd), [covariance(sd) for _ in doses]
    start = [RANDOM.gauss(0, 0.7 * sd) for _ in range(3)]
    measured = [
        [round(float(course(model, mp.mpf(dose), mp.mpf(shape))[0]) * v + RANDOM.gauss(0, sd) + s, 4) for v, s in zip(change, start)]
        for dose in doses
    ]
    return {"doses": doses, "changes": measured, "own": own, "shared": shared}


def fit(model, it, guess):
    """Parameters, standard uncertainties and chi-square of a model."""
    doses, n = [mp.mpf(repr(x)) for x in it["doses"]], 3 * len(it["doses"])
    exact = lambda x: mp.mpf(repr(x))
    big = mp.matrix(n, n)
    for i in range(n):
        for j in range(n):
            big[i, j] = exact(it["shared"][i % 3][j % 3])
            if i // 3 == j // 3:
                big[i, j] += exact(it["own"][i // 3][i % 3][j % 3])
    precision = big**-1
    y = mp.matrix([exact(x) for row in it["changes"] for x in row])

    def parts(p):
        residual, jacobian = mp.matrix(n, 1), mp.zeros(n, len(p))
        for i in range(n):
            along, slope = course(model, doses[i // 3], p[3] if len(p) == 4 else None)
            residual[i] = y[i] - p[i % 3] * along
            jacobian[i, i % 3] = along
            if len(p) == 4:
                jacobian[i, 3] = p[i % 3] * slope
        return residual, jacobian

    def gradient(*p):
        residual, jacobian = parts(p)
        return list(jacobian.T * precision * residual)

    best = list(mp.findroot(gradient, guess, tol=1e-40, maxsteps=100))
    residual, jacobian = parts(best)
    information = (jacobian.T * precision * jacobian) ** -1
    digits = lambda x: float(mp.nstr(x, 12))
    return {
        "parameters": [
            {"name": name, "value": digits(value), "sd": digits(mp.sqrt(information[i, i]))}
            for i, (name, value) in enumerate(zip(["dL", "da", "db"] + NAMES[model], best))
        ],
        "chi_square": digits((residual.T * precision * residual)[0]),
    }


def main():
    cases = [
        ("linear", 0, [40, 90, 160, 240], [0.011, -0.006, 0.021], 0.2),
        ("plateau", 0.012, [50, 100, 200, 400], [4.0, -2.5, 6.0], 0.15),
        ("plateau", 0.9, [0.5, 1, 1.5, 2, 3, 4.5], [-3.0, 5.0, 1.0], 0.3),
        ("plateau", 0.0021, [100, 200, 400, 600, 800, 1200, 1600], [1.0, 1.5, -7.0], 0.4),
        ("power", 0.5, [30, 60, 120, 180, 240, 300], [0.3, 0.2, -0.25], 0.2),
        ("power", 1.6, [1, 2, 3, 4, 5], [0.4, -0.2, 0.5], 0.25),
    ]
    written = []
    for model, shape, doses, change, sd in cases:
        it = points(model, shape, doses, change, sd)
        fits = {"linear": fit("linear", it, [0.01, 0.01, 0.01])}
        if model != "linear":
            fits[model] = fit(model, it, [*change, shape])
        written.append({"of": model, **it, "fits": fits})
    note = "mpmath 1.3.0, by tests/oracle/kinetics.py; twelve significant digits"
    all_of_it = {"source": note, "cases": written, "dose_at_5": dose_at(5)}
    OUT.write_text(json.dumps(all_of_it, indent=1) + "\n", encoding="utf-8")


def dose_at(threshold, sd=0.05):
    """The dose at which a plateau fitted to the worked set reaches a change, with its 95 % profile likelihood interval, `sd` being known."""
    doses, y = [100, 200, 400, 600, 800, 1200, 1600], [mp.mpf(it) / 10 for it in (12, 21, 35, 43, 51, 58, 63)]

    variance = mp.mpf(sd) ** 2

    def chi_square(k, a):
        return sum((it - a * (1 - mp.exp(-k * h))) ** 2 for h, it in zip(doses, y)) / variance

    def best(k):
        """The plateau that fits best with a rate."""
        g = [1 - mp.exp(-k * h) for h in doses]
        return sum(x * it for x, it in zip(g, y)) / sum(x**2 for x in g)

    def least(f, low, high):
        """Where a function of one minimum is least: golden section."""
        ratio = (mp.sqrt(5) - 1) / 2
        while high - low > mp.mpf(10) ** -13 * high:
            one, other = high - ratio * (high - low), low + ratio * (high - low)
            low, high = (low, other) if f(one) < f(other) else (one, high)
        return (low + high) / 2

    k = least(lambda k: chi_square(k, best(k)), mp.mpf("0.0012"), mp.mpf("0.0028"))
    a = best(k)
    dose, end = -mp.log(1 - threshold / a) / k, chi_square(k, a) + mp.mpf("3.841458820694124")

    def beyond(dose):
        """Least chi-square of the plateaus that reach the threshold at a dose, less the end of the interval's."""
        held = lambda k: chi_square(k, threshold / (1 - mp.exp(-k * dose)))
        return held(least(held, mp.mpf("0.0012"), mp.mpf("0.0028"))) - end

    low = mp.findroot(beyond, (dose - 30, dose), solver="anderson", tol=1e-9)
    high = mp.findroot(beyond, (dose, dose + 30), solver="anderson", tol=1e-9)
    return {key: float(mp.nstr(it, 10)) for key, it in (("value", dose), ("low", low), ("high", high))}


main()
