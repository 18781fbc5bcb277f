"""Full Bayes by NUTS: the hierarchical rise-and-fall model, as the costly gold standard."""

from __future__ import annotations

from dataclasses import dataclass
from time import perf_counter
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tests.benchmarks import rise_and_fall
from tests.benchmarks.peers import Peer
from tests.benchmarks.scores import REACH, Advice, advice_from_curves, volumes_up_to

__all__ = ["Nuts"]

FloatArray = NDArray[np.float64]

CHAINS, WARM_UP, KEPT = 4, 1000, 1000
THINNING = 4
MOST_R_HAT, MOST_DIVERGENT = 1.02, 20


class Nuts(Peer):
    """Normal coordinates across athletes, with free correlations; sessions are integrated out."""

    name = "NUTS"
    source = "Hoffman & Gelman (2014), JMLR 15; Phan, Pradhan & Jankowiak (2019), NumPyro"
    module = "numpyro"

    def load(self) -> None:
        import jax
        import numpyro

        jax.config.update("jax_enable_x64", True)
        numpyro.set_host_device_count(CHAINS)

    def fit(self, frame: pd.DataFrame) -> dict[str, Advice]:
        athletes, athlete = np.unique(frame["athlete"], return_inverse=True)
        session = pd.factorize(frame["session"])[0]
        volume = frame["volume"].to_numpy(dtype=float)
        data = volume, np.log(frame["value"].to_numpy()), athlete, session
        # Informative efforts sample best in the centred form, others in the non-centred one. Only
        # the seconds of the form that is used are reported, in the peer's favour.
        sampled = _sample(data, centred=True)
        if not sampled.converged:
            sampled = min(sampled, _sample(data, centred=False), key=_trouble)
        self.seconds, self.note = sampled.seconds, sampled.note
        grid = volumes_up_to(REACH * frame["volume"].max())
        drawn = sampled.coordinates
        return {
            str(code): advice_from_curves(
                grid, rise_and_fall.change(grid[:, None], *drawn[:, number].T)
            )
            for number, code in enumerate(athletes)
        }


@dataclass(frozen=True)
class _Sampled:
    """Draws of the athletes' coordinates, (n_draws, n_athletes, 3), and diagnostics."""

    coordinates: FloatArray
    seconds: float
    r_hat: float
    effective: float
    divergent: int
    form: str

    @property
    def converged(self) -> bool:
        return self.r_hat <= MOST_R_HAT and self.divergent <= MOST_DIVERGENT

    @property
    def note(self) -> str:
        return (
            f"{self.form}, largest R-hat {self.r_hat:.3f}, "
            f"least effective draws {self.effective:.0f}, {self.divergent} divergent"
        )


def _trouble(sampled: _Sampled) -> tuple[bool, int, float]:
    return not sampled.converged, sampled.divergent, sampled.r_hat


def _sample(data: tuple[Any, ...], *, centred: bool) -> _Sampled:
    from jax import random
    from numpyro.diagnostics import effective_sample_size, split_gelman_rubin
    from numpyro.infer import MCMC, NUTS

    began = perf_counter()
    chains = MCMC(
        NUTS(_model, target_accept_prob=0.9),
        num_warmup=WARM_UP,
        num_samples=KEPT,
        num_chains=CHAINS,
        progress_bar=False,
    )
    chains.run(random.PRNGKey(0), *data, centred=centred, extra_fields=("diverging",))
    found = {name: np.asarray(each) for name, each in chains.get_samples(True).items()}
    seconds = perf_counter() - began
    judged = [found[name] for name in ("mean", "spread", "effort", "day", "level", "coordinates")]
    return _Sampled(
        coordinates=found["coordinates"].reshape(CHAINS * KEPT, -1, 3)[::THINNING],
        seconds=seconds,
        r_hat=max(float(np.max(split_gelman_rubin(each))) for each in judged),
        effective=min(float(np.min(effective_sample_size(each))) for each in judged),
        divergent=int(np.asarray(chains.get_extra_fields()["diverging"]).sum()),
        form="centred" if centred else "non-centred",
    )


def _model(volume: FloatArray, y: FloatArray, athlete: Any, session: Any, *, centred: bool) -> None:
    import jax.numpy as jnp
    import numpyro
    from numpyro.distributions import HalfNormal, LKJCholesky, MultivariateNormal, Normal

    athletes = int(athlete.max()) + 1
    typical = np.log(np.maximum(volume, 1.0)).mean()
    mean = numpyro.sample(
        "mean",
        Normal(jnp.array([typical, np.log(0.06), np.log(2.0)]), jnp.array([1.5, 1.2, 1.0])),
    )
    spread = numpyro.sample("spread", HalfNormal(jnp.array([1.0, 0.7, 0.7])))
    root = spread[:, None] * numpyro.sample("correlation", LKJCholesky(3, 2.0))
    if centred:
        across = MultivariateNormal(mean, scale_tril=root).expand([athletes])
        coordinates = numpyro.sample("coordinates", across)
    else:
        apart = numpyro.sample("apart", Normal(jnp.zeros((athletes, 3)), 1.0))
        coordinates = numpyro.deterministic("coordinates", mean + apart @ root.T)
    level_mean = numpyro.sample("level_mean", Normal(y.mean(), 1.0))
    level_spread = numpyro.sample("level_spread", HalfNormal(0.3))
    level = numpyro.sample("level", Normal(level_mean * jnp.ones(athletes), level_spread))
    effort = numpyro.sample("effort", HalfNormal(0.1))
    day = numpyro.sample("day", HalfNormal(0.05))
    expected = level[athlete] + rise_and_fall.change(volume, *coordinates[athlete].T, xp=jnp)
    numpyro.factor("efforts", _log_density(y - expected, session, effort, day))


def _log_density(residual: Any, session: NDArray[np.intp], effort: Any, day: Any) -> Any:
    """Return the log density of residuals, with session effects integrated out exactly."""
    import jax
    import jax.numpy as jnp

    count = np.bincount(session)
    means = jax.ops.segment_sum(residual, session, len(count)) / count
    within = ((residual - means[session]) ** 2).sum()
    shared = effort**2 + count * day**2
    return -0.5 * (
        within / effort**2
        + 2.0 * (len(session) - len(count)) * jnp.log(effort)
        + (jnp.log(shared) + count * means**2 / shared).sum()
    )
