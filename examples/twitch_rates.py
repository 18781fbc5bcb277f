"""The twitch rates of 54 people after 8 to 64 squats: who is called, and one person's curve."""

import pandas as pd

from dashboard import plot_curve
from modeling import ResponseModel

efforts = pd.read_csv("twitch_efforts.csv")
model = ResponseModel().fit(efforts, efforts["value"])
print(model.to_frame()["call"].value_counts().to_dict(), f"of {len(model.responses_)} people")
print(f"the squad's best single volume: {model.squad_.best_single_volume:.0f} squats")
person = efforts["athlete"][0]
plot_curve(model, person, unit="squats", value_unit="mm/s").write_html("curve.html")
