"""Which of four models best predicts an effort that it has not seen.

Each fifth of the efforts is left out in turn, and four models predict it: a mixed model (a
quadratic in log volume, with each athlete's own level and slope), a Gaussian process for each
athlete, no curve at all, and the response model. All of them know the level of the day from the
other efforts.
"""

import numpy as np
import pandas as pd
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import RBF, ConstantKernel, WhiteKernel
from sklearn.model_selection import KFold
from statsmodels.formula.api import mixedlm

from modeling import ResponseModel


def no_curve(known, unseen):
    return unseen["athlete"].map(known.groupby("athlete")["y"].mean())


def mixed_model(known, unseen):
    formula = "y ~ log_volume + I(log_volume**2)"
    fit = mixedlm(formula, known, groups=known["athlete"], re_formula="~log_volume").fit()
    own = pd.DataFrame(fit.random_effects).T.loc[unseen["athlete"]].to_numpy()
    slopes = np.column_stack([np.ones(len(unseen)), unseen["log_volume"]])
    return fit.predict(unseen) + (own * slopes).sum(axis=1)


def gaussian_process(known, unseen):
    kernel = ConstantKernel(0.5) * RBF(1.0, (0.3, 10.0)) + WhiteKernel(0.7)
    said = pd.Series(index=unseen.index, dtype=float)
    for athlete, rows in unseen.groupby("athlete"):
        own = known[known["athlete"] == athlete]
        process = GaussianProcessRegressor(kernel, normalize_y=True)
        process.fit(own[["log_volume"]].to_numpy(), own["y"])
        said[rows.index] = process.predict(rows[["log_volume"]].to_numpy())
    return said


def response_model(known, unseen):
    return np.log(ResponseModel().fit(known, known["value"]).predict(unseen))


efforts = pd.read_csv("twitch_efforts.csv")
efforts["y"] = np.log(efforts["value"])
efforts["log_volume"] = np.log1p(efforts["volume_before"]) - 3  # near 0, so squares behave
models = (no_curve, mixed_model, gaussian_process, response_model)
errors = {model.__name__: [] for model in models}
for known, unseen in KFold(5, shuffle=True, random_state=1).split(efforts):
    for model in models:
        said = model(efforts.iloc[known], efforts.iloc[unseen])
        errors[model.__name__].extend(efforts["y"].iloc[unseen] - said)
for name, off in errors.items():
    print(f"{name}: off by {100 * np.sqrt(np.mean(np.square(off))):.2f} % in {len(off)} efforts")
