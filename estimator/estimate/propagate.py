"""Mean and variance of products and ratios of uncertain values, such as hours x rate."""

from __future__ import annotations


def product_moments(mx: float, sx: float, my: float, sy: float) -> tuple[float, float]:
    """Mean and variance of x y for independent x and y: exact (Goodman 1960; memory)."""
    return mx * my, mx * mx * sy * sy + my * my * sx * sx + sx * sx * sy * sy


def ratio_moments(my: float, sy: float, mx: float, sx: float) -> tuple[float, float]:
    """Mean and variance of y / x for independent values, by the delta method.

    The mean holds the second-order term (1 + cv_x^2); the variance is first-order,
    (my / mx)^2 (cv_x^2 + cv_y^2), and too small where x is uncertain: at 16 % by about a fifth. Draw
    such ratios where they matter. ValueError for a mean of x of nought.
    """
    if mx == 0:
        raise ValueError("no ratio to a value whose mean is nought")
    ratio, cx, cy = my / mx, sx / mx, (sy / my if my else 0.0)
    return ratio * (1.0 + cx * cx), ratio * ratio * (cx * cx + cy * cy)
