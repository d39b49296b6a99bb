"""Modulus over temperature from scattered coupons: a robust fit of ln E, with its confidence."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gridshell.define.types import Array, Quantity

OUTLIER_LIMIT = 3.5  # modified z-score: Iglewicz and Hoaglin (1993)
FEWEST_TO_JUDGE = 5  # coupons below which no outlier can be told
SAME_TEMPERATURE = 2.0  # K, closer than that counts as one temperature
FAR_APART = 15.0  # K
COVERAGE = 0.95

Flags = NDArray[np.bool_]
Shape = Callable[[Array, Array], Array]


def _constant(parameters: Array, x: Array) -> Array:
    return np.asarray(parameters[0] + 0 * x)


def _line(parameters: Array, x: Array) -> Array:
    return np.asarray(parameters[0] + parameters[1] * x)


def _quadratic(parameters: Array, x: Array) -> Array:
    return np.asarray(parameters[0] + parameters[1] * x + parameters[2] * x**2)


def _step(parameters: Array, x: Array) -> Array:
    # From the glassy level to the rubbery one; the width enters as its logarithm, so stays above 0.
    top, drop, center, width = parameters
    return np.asarray(top - drop / (1 + np.exp(-np.clip((x - center) / np.exp(width), -60, 60))))


def _sloping_step(parameters: Array, x: Array) -> Array:
    return np.asarray(_step(parameters[:4], x) - parameters[4] * x)


# shape -> (function, parameters, fewest temperatures)
SHAPES: dict[str, tuple[Shape, int, int]] = {
    "constant": (_constant, 1, 1),
    "line": (_line, 2, 2),
    "quadratic": (_quadratic, 3, 4),
    "step": (_step, 4, 5),
    "sloping step": (_sloping_step, 5, 7),
}


@dataclass(frozen=True)
class CurveFit:
    """A fitted curve of modulus over temperature.

    Attributes:
        shape: key of `SHAPES`: ln E is a constant, a line, a quadratic, or a smooth
            step without or with a slope.
        parameters: of the shape, in terms of x = (T - center)/scale.
        covariance: of the parameters.
        center: K.
        scale: K.
        low: lowest temperature of the data, K.
        high: highest, K.
        between: standard deviation of ln E between coupons beyond the measuring errors.
        freedom: degrees of freedom.
        outlier: per coupon, whether it was left out.
        score: per coupon, modified z-score (NaN when it can't be judged).
        notes: what to know of the fit.
    """

    shape: str
    parameters: Array
    covariance: Array
    center: float
    scale: float
    low: float
    high: float
    between: float
    freedom: int
    outlier: Flags
    score: Array
    notes: tuple[str, ...]

    def _log(self, temperature: Quantity) -> Array:
        x = (np.asarray(temperature, dtype=float) - self.center) / self.scale
        return SHAPES[self.shape][0](self.parameters, x)

    def modulus(self, temperature: Quantity) -> Array:
        """Fitted modulus, Pa, at a temperature, K."""
        return np.asarray(np.exp(self._log(temperature)))

    def relative_error(self, temperature: Quantity, *, single: bool = False) -> Array:
        """Standard error of ln E of the curve; ``single``: of one more part on the curve."""
        x = (np.asarray(temperature, dtype=float) - self.center) / self.scale
        gradient = _jacobian(SHAPES[self.shape][0], self.parameters, np.atleast_1d(x))
        variance = np.einsum("ij,jk,ik->i", gradient, self.covariance, gradient)
        extra = self.between**2 if single else 0.0
        return np.asarray(np.sqrt(variance + extra).reshape(x.shape))

    def band(self, temperature: Quantity, *, single: bool = False) -> tuple[Array, Array]:
        """Lower and upper end of the 95 % confidence band, Pa (Student's t)."""
        from scipy.stats import t as student

        error = self.relative_error(temperature, single=single)
        # without spare coupons only the measuring errors count, whose size is taken as known
        freedom = self.freedom if self.freedom > 0 else np.inf
        reach = student.ppf(0.5 + COVERAGE / 2, freedom) * error
        center = self.modulus(temperature)
        return center * np.exp(-reach), center * np.exp(reach)


def _jacobian(shape: Shape, parameters: Array, x: Array) -> Array:
    from scipy.optimize import approx_fprime

    slopes = approx_fprime(parameters, lambda trial: shape(trial, x))
    return np.asarray(slopes).reshape(len(x), len(parameters))


def _starts(shape: str, x: Array, y: Array) -> list[Array]:
    if "step" in shape:
        spread = max(float(np.ptp(y)), 0.1)
        return [
            np.array([y.max(), spread, center, np.log(0.15), 0.1 * spread][: SHAPES[shape][1]])
            for center in np.quantile(x, [0.2, 0.4, 0.6, 0.8])
        ]
    degree = SHAPES[shape][1] - 1
    # Theil-Sen's median of slopes: a start that outliers don't pull away.
    first, second = np.triu_indices(len(x), 1)
    apart = np.abs(x[second] - x[first]) > 1e-9
    slope = 0.0
    if degree and apart.any():
        slope = float(np.median((y[second] - y[first])[apart] / (x[second] - x[first])[apart]))
    start = np.zeros(degree + 1)
    start[0] = np.median(y - slope * x)
    if degree:
        start[1] = slope
    return [start]


def _solve(shape: str, x: Array, y: Array, weight: Array, loss: str, knee: float) -> Array:
    from scipy.optimize import least_squares

    function, _, _ = SHAPES[shape]
    bounds: tuple[Any, Any] = (-np.inf, np.inf)
    if "step" in shape:
        # The step lies within the data and is no sharper than the data can tell; nothing stiffens
        # as it warms.
        size = SHAPES[shape][1]
        bounds = (np.array([-np.inf, 0.0, x.min() - 0.5, np.log(0.02), 0.0])[:size],
                  np.array([np.inf, 40.0, x.max() + 0.5, np.log(5.0), 20.0])[:size])
    best = None
    for start in _starts(shape, x, y):
        found = least_squares(
            lambda p: (function(p, x) - y) * weight, start, loss=loss, f_scale=knee, bounds=bounds,
            x_scale=1.0,
        )
        if best is None or found.cost < best.cost:
            best = found
    assert best is not None
    return np.asarray(best.x)


def _between(shape: str, x: Array, y: Array, error: Array, freedom: int) -> tuple[Array, float]:
    """Weighted fit with the between-coupon variance that makes chi squared equal its expectation.

    Source: R. C. Paule and J. Mandel, Consensus Values and Weighting Factors, J. Res. Natl. Bur.
        Stand. 87 (1982) 377-385, for a mean; here for a curve.
    """
    from scipy.optimize import brentq

    function = SHAPES[shape][0]

    def solved(extra: float) -> tuple[Array, Array]:
        weight = 1 / np.sqrt(error**2 + extra**2)
        parameters = _solve(shape, x, y, weight, "linear", 1.0)
        return parameters, (function(parameters, x) - y) * weight

    def excess(extra: float) -> float:
        return float(np.sum(solved(extra)[1] ** 2)) - freedom

    if freedom <= 0 or excess(0.0) <= 0:
        return solved(0.0)[0], 0.0
    high = float(np.std(y)) + 1e-6
    while excess(high) > 0:
        high *= 2
    extra = float(brentq(excess, 0.0, high, rtol=1e-6))
    return solved(extra)[0], extra


def count_temperatures(temperature: Array) -> int:
    """How many different temperatures there are, to within 2 K.

    >>> count_temperatures(np.array([293.0, 294.0, 250.0]))
    2
    """
    ordered = np.sort(temperature)
    return int(1 + np.sum(np.diff(ordered) > SAME_TEMPERATURE))


def fit_modulus(temperature: Array, modulus: Array, relative_error: Array) -> CurveFit:
    """Fit a curve of modulus over temperature through coupons.

    Each shape that the number of temperatures allows is fitted to ln E with a soft loss that
    outliers can't pull; the shape is chosen by the corrected Akaike criterion with the outliers'
    share capped; coupons with a modified z-score above 3.5 that the curve through the others does
    not predict (t-test) are left out; the rest is fitted by weighted least squares, the weights
    from measuring error and between-coupon scatter.

    Args:
        temperature: K, one per coupon.
        modulus: Pa.
        relative_error: standard measuring error of ln E.
    Returns:
        the fit; it holds from the lowest to the highest temperature of the coupons kept.
    Source: B. Iglewicz and D. C. Hoaglin, How to Detect and Handle Outliers (ASQC, 1993) for the
        modified z-score; Cook and Weisberg (1982) for the test; C. M. Hurvich and C.-L. Tsai,
        Biometrika 76 (1989) 297-307 for the criterion; Paule and Mandel (1982) for the scatter.
    """
    count = len(temperature)
    y = np.log(modulus)
    center = float(np.mean(temperature))
    scale = max(float(np.ptp(temperature)) / 2, 1.0)
    x = (temperature - center) / scale
    temperatures = count_temperatures(temperature)
    floor = max(float(np.median(relative_error)), 1e-4)
    notes: list[str] = []
    candidates: dict[str, Array] = {}
    for shape, (function, size, fewest) in SHAPES.items():
        if temperatures < fewest or count < size or (shape == "constant" and temperatures > 1):
            continue
        if size > 2 and count <= size + 1:
            continue  # no spare coupons to tell whether the bend is real
        parameters = _solve(shape, x, y, np.ones(count), "soft_l1", floor)
        grid = np.linspace(x.min(), x.max(), 101)
        if shape == "quadratic" and np.any(np.diff(function(parameters, grid)) > 1e-9):
            continue  # stiffness does not rise with temperature
        candidates[shape] = function(parameters, x) - y
    spread = {shape: max(_mad(r, SHAPES[shape][1]), floor) for shape, r in candidates.items()}
    knee = min(spread.values())
    best = min(candidates, key=lambda s: _criterion(candidates[s], SHAPES[s][1], knee))
    residual, judged = candidates[best], count >= FEWEST_TO_JUDGE
    score = -residual / spread[best] if judged else np.full(count, np.nan)
    outlier: Flags = np.asarray(np.abs(score) > OUTLIER_LIMIT)  # NaN is not above
    if not judged:
        notes.append(f"fewer than {FEWEST_TO_JUDGE} coupons: outliers can't be told")
    if outlier.any() and count_temperatures(temperature[~outlier]) < SHAPES[best][2]:
        outlier[:] = False
        notes.append("outliers kept: without them too few temperatures are left for the curve")
    fit = _finish(
        best, x, y=y, error=relative_error, temperature=temperature, frame=(center, scale),
        outlier=outlier, score=score, notes=notes,
    )
    if outlier.any() and fit.freedom > 0:
        confirmed = outlier & _far_off(fit, temperature, y, relative_error)
        if confirmed.sum() < outlier.sum():
            fit = _finish(
                best, x, y=y, error=relative_error, temperature=temperature, frame=(center, scale),
                outlier=confirmed, score=score, notes=notes,
            )
    if temperatures == 2 and np.ptp(temperature) > FAR_APART:
        notes.append(f"two temperatures {np.ptp(temperature):.0f} K apart: the bend of the curve "
                     "between them is not known")
    if fit.freedom <= 0:
        notes.append("no spare coupons: the band holds the measuring errors only")
    left_out = int(fit.outlier.sum())
    if left_out > count / 4:
        notes.append(f"{left_out} of {count} coupons are outliers: look for two batches")
    if fit.modulus(fit.high) > fit.modulus(fit.low) * 1.02:
        notes.append("the fitted modulus rises with temperature: check the data")
    return dataclasses.replace(fit, notes=tuple(notes))


def _finish(
    shape: str, x: Array, y: Array, error: Array, temperature: Array,
    frame: tuple[float, float], outlier: Flags, score: Array, notes: list[str],
) -> CurveFit:
    """Weighted least squares through the coupons kept."""
    keep = ~outlier
    freedom = int(keep.sum()) - SHAPES[shape][1]
    parameters, between = _between(shape, x[keep], y[keep], error[keep], freedom)
    gradient = _jacobian(SHAPES[shape][0], parameters, x[keep])
    weight = 1 / (error[keep] ** 2 + between**2)
    covariance = np.asarray(np.linalg.pinv(gradient.T @ (gradient * weight[:, None])))
    kept = temperature[keep]
    return CurveFit(
        shape, parameters, covariance, center=frame[0], scale=frame[1], low=float(kept.min()),
        high=float(kept.max()), between=between, freedom=freedom, outlier=np.asarray(outlier),
        score=np.asarray(score), notes=tuple(notes),
    )


def _far_off(fit: CurveFit, temperature: Array, y: Array, error: Array) -> Flags:
    """Which coupons a fit without them predicts wrongly, by Student's t shared among all coupons.

    Source: R. D. Cook and S. Weisberg, Residuals and Influence in Regression (1982), outlier test
        with Bonferroni's bound.
    """
    from scipy.stats import t as student

    reach = student.ppf(1 - (1 - COVERAGE) / (2 * len(y)), fit.freedom)
    spread = np.hypot(fit.relative_error(temperature, single=True), error)
    return np.asarray(np.abs(y - np.log(fit.modulus(temperature))) > reach * spread)


def _mad(residual: Array, size: int) -> float:
    """Median absolute residual as a standard deviation, allowing for fitted parameters."""
    count = len(residual)
    allow = np.sqrt(count / max(count - size, 1))
    return float(1.4826 * np.median(np.abs(residual)) * allow)


def _criterion(residual: Array, size: int, knee: float) -> float:
    count = len(residual)
    if count - size - 2 <= 0:
        return float(1e6 + size)  # too few to compare: the simplest first
    capped = np.minimum(residual**2, (OUTLIER_LIMIT * knee) ** 2)
    free = size + 1  # the scatter counts too
    mean = max(float(np.mean(capped)), (0.1 * knee) ** 2)
    return float(count * np.log(mean) + 2 * free + 2 * free * (free + 1) / (count - free - 1))
