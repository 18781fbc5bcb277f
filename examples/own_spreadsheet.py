"""From a spreadsheet of your own to each athlete's best volume and a curve.

`our_jumps.xlsx` has a row for each jump, with Player, Date, Start, Jump (its number in a fade test)
and Height in cm.
"""

import pandas as pd

from dashboard import plot_curve
from modeling import ResponseModel

sheet = pd.read_excel("our_jumps.xlsx", dtype={"Date": str, "Start": str})
efforts = pd.DataFrame(
    {
        "athlete": sheet["Player"],
        "started_at": sheet["Date"] + "T" + sheet["Start"],
        "volume_before": sheet["Jump"] - 1,  # jumps done before this one
    }
)
model = ResponseModel(standard_volume=15).fit(efforts, sheet["Height"])
table = model.to_frame()
print(table[["athlete", "call", "best_volume", "best_volume_low", "best_volume_high", "efforts"]])
plot_curve(model, table["athlete"][0], unit="jumps", value_unit="cm").write_html("curve.html")
