"""R's nlme, with the same curves as the full Bayesian peer."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tests.benchmarks import rise_and_fall
from tests.benchmarks.peers import DRAWS, Peer, linear_posterior, session_noise
from tests.benchmarks.scores import REACH, Advice, advice_from_curves, volumes_up_to

__all__ = ["Nlme"]

FloatArray = NDArray[np.float64]

SCRIPT = Path(__file__).with_name("nlme.R")
COORDINATES = ["level", "log_best", "log_gain", "log_bend"]


class Nlme(Peer):
    """A nonlinear mixed model, with intervals by linearising at the athlete's own curve."""

    name = "nlme"
    source = "Pinheiro & Bates (2000), Mixed-Effects Models in S and S-PLUS; Debian r-cran-nlme"

    def lacking(self) -> str | None:
        if shutil.which("Rscript") is None:
            return "R"
        done = subprocess.run(["Rscript", "-e", "library(nlme)"], capture_output=True)
        return None if done.returncode == 0 else "R's nlme"

    def fit(self, frame: pd.DataFrame) -> dict[str, Advice]:
        data = frame[["athlete", "session", "volume"]].assign(y=np.log(frame["value"]))
        own, fixed_covariance, sizes = _run(data)
        self.seconds = float(sizes["seconds"])
        self.note = (
            f"{sizes['random']:.0f} random coefficients; "
            f"{sizes['searched']:.1f} s with the choices that failed"
        )
        across = np.diag(sizes[COORDINATES].to_numpy(dtype=float) ** 2)
        volume = volumes_up_to(REACH * frame["volume"].max())
        advice = {}
        for code, rows in data.groupby("athlete"):
            mode = own.loc[str(code)].to_numpy(dtype=float)
            noise = session_noise(
                rows["session"].to_numpy(), sizes["effort"] ** 2, sizes["session"] ** 2
            )
            slopes = _slopes(rows["volume"].to_numpy(dtype=float), mode)
            _, covariance = linear_posterior(slopes, across, noise, fixed_covariance)
            drawn = np.random.default_rng(0).multivariate_normal(mode, covariance, DRAWS)
            curves = rise_and_fall.change(volume[:, None], *drawn[:, 1:].T)
            advice[str(code)] = advice_from_curves(volume, curves)
        return advice


def _run(data: pd.DataFrame) -> tuple[pd.DataFrame, FloatArray, pd.Series]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        data.to_csv(folder / "efforts.csv", index=False)
        done = subprocess.run(
            ["Rscript", "--vanilla", str(SCRIPT), name], capture_output=True, text=True
        )
        if done.returncode != 0:
            said = [line for line in done.stderr.splitlines() if "halted" not in line]
            raise RuntimeError(" ".join(said[-2:]))
        own = pd.read_csv(folder / "athletes.csv", dtype={"athlete": str}).set_index("athlete")
        fixed = pd.read_csv(folder / "fixed.csv").to_numpy(dtype=float)
        return own, fixed, pd.read_csv(folder / "sizes.csv").iloc[0]


def _slopes(volume: FloatArray, mode: FloatArray) -> FloatArray:
    """Return the slope of the expected log value in each coordinate: (n_efforts, 4)."""
    step = 1e-5
    moved = mode[1:, None] + step * np.stack([np.eye(3), -np.eye(3)])
    up, down = (rise_and_fall.change(volume[:, None], *side) for side in moved)
    return np.column_stack([np.ones(len(volume)), (up - down) / (2.0 * step)])
