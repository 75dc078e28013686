"""Points of skewed times: lognormal and gamma from a mean and a coefficient of variation.

Times in minutes (any unit does: mean and quantile share it); ``cv`` is sd / mean, ``p`` a probability
between 0 and 1. ValueError for values that no such curve has.
"""

from __future__ import annotations

from math import exp, inf, lgamma, log, sqrt
from statistics import NormalDist

_NORMAL = NormalDist()


def lognormal_parameters(mean: float, cv: float) -> tuple[float, float]:
    """mu and s of the lognormal curve: s^2 = ln(1 + cv^2), mu = ln(mean) - s^2 / 2.

    Moments of the lognormal curve inverted (NIST/SEMATECH e-Handbook 1.3.6.6.9; memory).
    """
    if mean <= 0 or cv < 0:
        raise ValueError("a lognormal time needs a mean above nought and a spread that is not negative")
    variance = log(1.0 + cv * cv)
    return log(mean) - variance / 2.0, sqrt(variance)


def lognormal_quantile(mean: float, cv: float, p: float) -> float:
    """The time not exceeded with probability ``p``: exp(mu + z_p s)."""
    mu, s = lognormal_parameters(mean, cv)
    return exp(mu + s * _NORMAL.inv_cdf(p))


def gamma_parameters(mean: float, cv: float) -> tuple[float, float]:
    """Shape k = 1 / cv^2 and scale mean x cv^2 of the gamma curve."""
    if mean <= 0 or cv <= 0:
        raise ValueError("a gamma time needs a mean and a spread above nought")
    return 1.0 / (cv * cv), mean * cv * cv


def gamma_quantile(mean: float, cv: float, p: float) -> float:
    """The time not exceeded with probability ``p`` under a gamma curve."""
    shape, scale = gamma_parameters(mean, cv)
    return scale * standard_gamma_quantile(shape, p)


def standard_gamma_quantile(shape: float, p: float) -> float:
    """Quantile of the gamma curve of scale 1, by halving an interval that holds it.

    ``shape`` above nought, 0 < p < 1. With scale 2 it is the chi-square table of 2 x shape degrees.
    """
    if shape <= 0 or not 0.0 < p < 1.0:
        raise ValueError("a gamma quantile needs a shape above nought and a probability between 0 and 1")
    low, high = 0.0, max(1.0, shape)
    while regularised_gamma(shape, high) < p:
        low, high = high, high * 2.0
    for _ in range(200):
        middle = (low + high) / 2.0
        if middle in (low, high):
            break
        if regularised_gamma(shape, middle) < p:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def regularised_gamma(shape: float, x: float) -> float:
    """P(shape, x), the lower incomplete gamma function over the whole one, for x >= 0.

    Series below shape + 1, continued fraction (Lentz) above: the textbook split (Abramowitz and
    Stegun 6.5.29 and 6.5.31; memory). Good to about 1e-14.
    """
    if x <= 0:
        return 0.0
    front = exp(shape * log(x) - x - lgamma(shape))
    if x < shape + 1.0:
        term = total = 1.0 / shape
        n = shape
        while abs(term) > abs(total) * 1e-17:
            n += 1.0
            term *= x / n
            total += term
        return front * total
    tiny = 1e-300
    b = x + 1.0 - shape
    c, d = inf, 1.0 / b
    fraction = d
    for i in range(1, 10_000):
        a = -i * (i - shape)
        b += 2.0
        d = 1.0 / (a * d + b or tiny)
        c = b + a / c
        step = c * d
        fraction *= step
        if abs(step - 1.0) < 1e-16:
            break
    return 1.0 - front * fraction
