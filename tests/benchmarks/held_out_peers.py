"""Predictions of held-out efforts by statsmodels and scikit-learn.

A mixed model (a quadratic in log volume whose level, slope and bend differ between athletes) and
a Gaussian process over log volume for each athlete alone; both as in `peers`.

References
----------
Pedregosa and others (2011), Scikit-learn: machine learning in Python, JMLR 12, 2825-2830.
Rasmussen & Williams (2006), Gaussian processes for machine learning, MIT Press.
Seabold & Perktold (2010), statsmodels: econometric and statistical modeling with Python, Proc. 9th
Python in Science Conference.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

from tests.benchmarks.held_out import TYPICAL_LOG_VOLUME, Prediction, Split
from tests.benchmarks.peers import linear_posterior

__all__ = ["PEERS"]

FloatArray = NDArray[np.float64]


def mixed_model(split: Split) -> Prediction:
    """Predict by a mixed model; take its variances as known, but not its coefficients."""
    from statsmodels.formula.api import mixedlm

    known = split.known.assign(x=_logs(split.known["volume"].to_numpy()))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a variance of 0 is a valid answer here
        fit = mixedlm("y ~ x + I(x**2)", known, groups="athlete", re_formula="~ x + I(x**2)").fit(
            method=["lbfgs"], maxiter=200
        )
    fixed, across = fit.fe_params.to_numpy(), np.asarray(fit.cov_re)
    unsure, effort = fit.cov_params().iloc[:3, :3].to_numpy(), float(fit.scale)
    curves = {}
    for code, rows in known.groupby("athlete"):
        design = _powers(rows["volume"].to_numpy())
        own, covariance = linear_posterior(design, across, effort * np.eye(len(rows)), unsure)
        curves[code] = fixed + own @ (rows["y"].to_numpy() - design @ fixed), covariance

    def of(code: object, volumes: FloatArray) -> tuple[FloatArray, FloatArray]:
        mean, covariance = curves[code]
        design = _powers(volumes)
        return design @ mean, design @ covariance @ design.T

    return _differences(split, of, dict.fromkeys(curves, effort))


def gaussian_process(split: Split) -> Prediction:
    """Predict by a Gaussian process for each athlete alone."""
    from sklearn.gaussian_process import GaussianProcessRegressor
    from sklearn.gaussian_process.kernels import RBF, ConstantKernel, WhiteKernel

    processes, noises = {}, {}
    for code, rows in split.known.groupby("athlete"):
        kernel = ConstantKernel(0.5, (1e-3, 10.0)) * RBF(1.0, (0.3, 10.0)) + WhiteKernel(0.7)
        process = GaussianProcessRegressor(kernel, normalize_y=True)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # a parameter at its bound is a valid answer here
            process.fit(_logs(rows["volume"].to_numpy())[:, None], rows["y"].to_numpy())
        processes[code] = process
        noises[code] = process.kernel_.k2.noise_level * float(rows["y"].std(ddof=0)) ** 2

    def of(code: object, volumes: FloatArray) -> tuple[FloatArray, FloatArray]:
        mean, covariance = processes[code].predict(_logs(volumes)[:, None], return_cov=True)
        return mean, covariance - noises[code] * np.eye(len(volumes))

    return _differences(split, of, noises)


PEERS: dict[str, Callable[[Split], Prediction]] = {
    "mixed model, statsmodels": mixed_model,
    "Gaussian process, scikit-learn": gaussian_process,
}


def _differences(
    split: Split,
    curve: Callable[[object, FloatArray], tuple[FloatArray, FloatArray]],
    noises: dict[object, float],
) -> Prediction:
    """Predict differences from the means, covariances and noise of athletes' curves."""
    expected, variance = np.empty(len(split.volume)), np.empty(len(split.volume))
    for n, code in enumerate(split.athlete):
        mean, covariance = curve(code, np.append(split.volume[n], split.against[n]))
        weight = np.append(1.0, np.full(len(split.against[n]), -1.0 / len(split.against[n])))
        expected[n] = weight @ mean
        variance[n] = max(weight @ covariance @ weight, 0.0) + noises[code] * split.noise_factor[n]
    return Prediction(expected, norm.logpdf(split.difference, expected, np.sqrt(variance)))


def _logs(volume: FloatArray) -> FloatArray:
    return np.log1p(volume.astype(float)) - TYPICAL_LOG_VOLUME


def _powers(volume: FloatArray) -> FloatArray:
    return _logs(volume)[:, None] ** np.arange(3)
