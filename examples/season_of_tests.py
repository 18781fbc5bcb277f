"""How many tests does my squad need? A simulation, before anybody is tested.

`warmcurve simulate` does the same from the command line.
"""

from modeling.day.season_outlook import SeasonPlan, season_outlook
from modeling.testing.simulation import Noise, Protocol

ATHLETES, SQUADS = 6, 5  # take 20 squads or more for numbers to act on
noise = Noise(effort=0.04, day=0.03)
for tests, sessions in [(0, 6), (1, 4), (2, 8)]:
    plan = SeasonPlan(ATHLETES, Protocol(fade_tests=tests, routine_sessions=sessions), noise)
    outlook = season_outlook(plan, SQUADS)
    firm, lost = outlook.firm_pct, outlook.lost_pct
    print(
        f"{tests} fade tests, {sessions} sessions: firm calls for {firm.value:.0f} % "
        f"({firm.low:.0f} to {firm.high:.0f}, {firm.count} athletes), "
        f"lost {lost.value:.2f} % ({lost.low:.2f} to {lost.high:.2f})"
    )
