"""Other ways to find a warm-up length, each behind the same small interface."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from time import perf_counter

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from modeling import ResponseModel
from modeling.answers.response import Response
from tests.benchmarks.scores import Advice, advice_from_curves, volumes_up_to
from tests.benchmarks.squads import STANDARD, WORTHWHILE_PCT

__all__ = [
    "DRAWS",
    "Fitted",
    "GaussianProcess",
    "MixedQuadratic",
    "OwnModel",
    "OwnQuadratic",
    "Peer",
    "UsualRule",
    "advice_of",
    "fit_peer",
    "linear_posterior",
    "usual_volume",
]

FloatArray = NDArray[np.float64]

DRAWS = 400
"""Curves drawn from each athlete's posterior."""

SMOOTHED_EFFORTS = 5
"""Efforts in the moving mean of the usual rule."""


class Peer:
    """A way to advise every athlete of a squad.

    Attributes
    ----------
    name, source : str
    seconds : float or None
        The time of the fit as the peer reports it, where starting another program must not count.
    note : str
        A remark on the last fit, such as on convergence.
    """

    name = ""
    source = ""
    module: str | None = None

    def __init__(self) -> None:
        self.seconds: float | None = None
        self.note = ""

    def lacking(self) -> str | None:
        """Return the name of what is not installed, or None."""
        missing = self.module is not None and find_spec(self.module) is None
        return self.module if missing else None

    def load(self) -> None:
        """Import what the fit needs, so that it is not timed."""

    def fit(self, frame: pd.DataFrame) -> dict[str, Advice]:
        """Advise every athlete from columns athlete, session, kind, day, volume, value."""
        raise NotImplementedError


@dataclass(frozen=True)
class Fitted:
    """A peer's answers, how long its fit took, and its remark."""

    advice: dict[str, Advice]
    seconds: float
    note: str


def fit_peer(kind: type[Peer], frame: pd.DataFrame) -> Fitted:
    """Fit one peer to one squad; compiling is timed, imports are not."""
    peer = kind()
    peer.load()
    began = perf_counter()
    try:
        advice = peer.fit(frame)
    except Exception as problem:  # a peer that fails is a result for the report
        return Fitted({}, float("nan"), f"failed: {problem}")
    seconds = perf_counter() - began
    return Fitted(advice, peer.seconds or seconds, peer.note)


class OwnModel(Peer):
    """The response model of this project."""

    name = "warmcurve"
    source = "modeling.ResponseModel"

    def fit(self, frame: pd.DataFrame) -> dict[str, Advice]:
        model = ResponseModel(standard_volume=STANDARD, worthwhile_pct=WORTHWHILE_PCT)
        model.fit(frame, frame["value"])
        return {str(code): advice_of(response) for code, response in model.responses_.items()}


def advice_of(response: Response) -> Advice:
    """Take the advice out of an athlete's response."""
    return Advice(
        response.advised_volume,
        (response.best_volume.low, response.best_volume.high),
        (response.chance_short, response.chance_long, response.chance_either),
        response.call,
    )


class UsualRule(Peer):
    """The mean volume of the best effort in fade tests, after smoothing."""

    name = "usual rule"
    source = "common practice, no source"

    def fit(self, frame: pd.DataFrame) -> dict[str, Advice]:
        return {str(code): Advice(usual_volume(rows)) for code, rows in frame.groupby("athlete")}


def usual_volume(rows: pd.DataFrame) -> float:
    """Return one athlete's volume by the usual rule; NaN without a fade test."""
    tests = rows[rows["kind"] == "fade"].sort_values("volume")
    best = []
    for _, test in tests.groupby("session"):
        smooth = test["value"].rolling(SMOOTHED_EFFORTS, center=True, min_periods=1).mean()
        best.append(float(test["volume"].to_numpy()[int(smooth.to_numpy().argmax())]))
    return float(np.mean(best)) if best else np.nan


class OwnQuadratic(Peer):
    """A quadratic in log volume by least squares, for each athlete alone."""

    name = "own quadratic"
    source = "least squares with t-distributed coefficients (any textbook), numpy"

    def fit(self, frame: pd.DataFrame) -> dict[str, Advice]:
        return {str(code): _quadratic_advice(rows) for code, rows in frame.groupby("athlete")}


def _quadratic_advice(rows: pd.DataFrame) -> Advice:
    centre = float(np.log1p(rows["volume"]).mean())
    design = _powers(rows["volume"].to_numpy(), centre)
    y = np.log(rows["value"].to_numpy())
    inverse = np.linalg.pinv(design.T @ design)
    mean = inverse @ design.T @ y
    degrees = max(len(y) - 3, 1)
    variance = float(((y - design @ mean) ** 2).sum()) / degrees
    rng = np.random.default_rng(0)
    tail = np.sqrt(degrees / rng.chisquare(degrees, DRAWS))
    spread = rng.multivariate_normal(np.zeros(3), variance * inverse, DRAWS) * tail[:, None]
    volume = _tried(rows["volume"])
    return advice_from_curves(volume, _powers(volume, centre) @ (mean + spread).T)


def _tried(volume: pd.Series) -> FloatArray:
    # These curves make no sense beyond the volumes that the athlete has tried.
    return volumes_up_to(float(volume.max()), float(volume.min()))


def _powers(volume: FloatArray, centre: float) -> FloatArray:
    return np.vander(np.log1p(volume) - centre, 3, increasing=True)


class MixedQuadratic(Peer):
    """Quadratics in log volume with random coefficients; sessions are variance components."""

    name = "MixedLM"
    source = "Seabold & Perktold (2010), statsmodels: MixedLM"
    module = "statsmodels"

    def load(self) -> None:
        import_module("statsmodels.formula.api")

    def fit(self, frame: pd.DataFrame) -> dict[str, Advice]:
        from statsmodels.formula.api import mixedlm

        centre = float(np.log1p(frame["volume"]).mean())
        data = pd.DataFrame(
            {
                "y": np.log(frame["value"]),
                "x": np.log1p(frame["volume"]) - centre,
                "athlete": frame["athlete"],
                "session": frame["session"],
            }
        )
        data["x2"] = data["x"] ** 2
        with warnings.catch_warnings():
            # The note says instead if it did not converge.
            warnings.simplefilter("ignore")
            fit = mixedlm(
                "y ~ x + x2",
                data,
                groups="athlete",
                re_formula="~ x + x2",
                vc_formula={"session": "0 + C(session)"},
            ).fit(method=["lbfgs"], maxiter=200)
        self.note = "" if fit.converged else "not converged"
        fixed = fit.fe_params.to_numpy()
        fixed_covariance = fit.cov_params().iloc[:3, :3].to_numpy()
        across = np.asarray(fit.cov_re)
        effort, session = float(fit.scale), float(fit.vcomp[0])
        advice = {}
        for code, rows in data.groupby("athlete"):
            design = np.stack([np.ones(len(rows)), rows["x"], rows["x2"]], axis=1)
            noise = session_noise(rows["session"].to_numpy(), effort, session)
            own, covariance = linear_posterior(design, across, noise, fixed_covariance)
            mean = fixed + own @ (rows["y"].to_numpy() - design @ fixed)
            drawn = np.random.default_rng(0).multivariate_normal(mean, covariance, DRAWS)
            volume = _tried(frame.loc[rows.index, "volume"])
            advice[str(code)] = advice_from_curves(volume, _powers(volume, centre) @ drawn.T)
        return advice


def session_noise(session: NDArray[np.object_], effort: float, between: float) -> FloatArray:
    """Return the covariance of efforts of variance `effort` in sessions of variance `between`."""
    same = session[:, None] == session[None, :]
    return effort * np.eye(len(session)) + between * same


def linear_posterior(
    design: FloatArray, across: FloatArray, noise: FloatArray, fixed_covariance: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Best linear unbiased prediction of one athlete's coefficients in a mixed model.

    Returns the matrix that turns residuals from the fixed effects into the athlete's own part,
    and the covariance of the athlete's coefficients, including the uncertainty of the fixed
    effects (Robinson 1991, That BLUP is a good thing).
    """
    gain = np.linalg.solve(design @ across @ design.T + noise, design @ across).T
    left = np.eye(len(across)) - gain @ design
    return gain, left @ across + left @ fixed_covariance @ left.T


class GaussianProcess(Peer):
    """A Gaussian process over log volume, for each athlete alone."""

    name = "Gaussian process"
    source = "Rasmussen & Williams (2006); Pedregosa et al. (2011), scikit-learn"

    def fit(self, frame: pd.DataFrame) -> dict[str, Advice]:
        return {str(code): _process_advice(rows) for code, rows in frame.groupby("athlete")}


def _process_advice(rows: pd.DataFrame) -> Advice:
    from sklearn.gaussian_process import GaussianProcessRegressor
    from sklearn.gaussian_process.kernels import RBF, ConstantKernel, WhiteKernel

    # A rise and a fall each take about 1 unit of log volume; values are standardised.
    kernel = ConstantKernel(0.5, (1e-3, 10.0)) * RBF(1.0, (0.3, 10.0)) + WhiteKernel(0.7)
    process = GaussianProcessRegressor(kernel, normalize_y=True)
    volume = _tried(rows["volume"])
    with warnings.catch_warnings():
        # A parameter at its bound is a valid answer here, such as no effect of volume.
        warnings.simplefilter("ignore")
        process.fit(np.log1p(rows[["volume"]].to_numpy()), np.log(rows["value"].to_numpy()))
        mean, covariance = process.predict(np.log1p(volume)[:, None], return_cov=True)
    # The white part is the noise of an effort, not of the curve; it is the same at each volume.
    noise = process.kernel_.k2.noise_level * float(np.log(rows["value"]).std(ddof=0)) ** 2
    curve = covariance - noise * np.eye(len(volume))
    values, vectors = np.linalg.eigh(curve)
    root = vectors * np.sqrt(np.clip(values, 0.0, None))
    drawn = root @ np.random.default_rng(0).standard_normal((len(volume), DRAWS))
    return advice_from_curves(volume, mean[:, None] + drawn)
