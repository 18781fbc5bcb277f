from __future__ import annotations

from dataclasses import astuple, dataclass, fields

import pandas as pd


@dataclass(frozen=True)
class Player:
    """An invented athlete, as in the file of athletes."""

    athlete: str
    name: str
    position: str
    born: str
    active: str = "yes"


ROSTER = (
    Player("H01", "Jorun Ask-Valle", "goalkeeper", "1996-03-14"),
    Player("H02", "Milo Sarkovec", "goalkeeper", "2001-11-02"),
    Player("H03", "Tiago Belmarinho", "left wing", "1999-07-21"),
    Player("H04", "Emeka Adunola", "left wing", "2003-01-30"),
    Player("H05", "Søren Hjortkær", "left back", "1997-05-09"),
    Player("H06", "Davit Meskhadze", "left back", "2000-09-17"),
    Player("H07", "Lucien Tarbourel", "right wing", "2002-12-05"),
    Player("H08", "Bálint Orsóvári", "centre back", "1995-08-26"),
    Player("H09", "Haruki Minazawa", "centre back", "1998-04-11"),
    Player("H10", "Yassine Bourahla", "right back", "2001-02-19"),
    Player("H11", "Gunnar Eldhamar", "pivot", "1994-10-03"),
    Player("H12", "Oriol Demblay", "left back", "1999-06-28"),
    Player("H13", "Kasper Wrona-Dahl", "pivot", "1997-01-08"),
    Player("H14", "Nikola Petrašin", "right back", "2000-03-23"),
    Player("H15", "Rafiq Sandhari", "right wing", "2004-05-16"),
    Player("H16", "Ivo Hradecký", "centre back", "2002-08-07"),
    Player("H17", "Mateus Carvadal", "left wing", "1996-12-29"),
    Player("H18", "Anders Flåtemo", "right back", "1998-09-12"),
    Player("H19", "Kofi Ansarewa", "pivot", "2003-04-04"),
    Player("H20", "Leif Torsvalden", "left back", "1995-11-20"),
    Player("H21", "Stelios Varnakis", "right wing", "2001-07-01"),
    Player("H22", "Pavlo Chernodub", "centre back", "1999-02-25"),
    Player("H23", "Joon-ho Bae-Lindal", "left wing", "2004-10-10"),
    Player("H24", "Matteo Grisanelli", "right back", "1996-06-06", "no"),
    Player("H25", "Viggo Rasmark", "goalkeeper", "2006-01-22"),
    Player("H26", "Tomás Iriondegui", "left wing", "2007-03-18"),
)


def athletes_table() -> pd.DataFrame:
    """Return the file of athletes, a row per player."""
    columns = [field.name for field in fields(Player)]
    return pd.DataFrame([astuple(player) for player in ROSTER], columns=columns)
