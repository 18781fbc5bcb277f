"""Workbooks and wide sheets as people bring them."""

from __future__ import annotations

import io
from datetime import datetime, time

import pandas as pd

from tests.layouts.layout import A_TEST, AT_NINE, Layout, book, session, text

DAY, NEXT = datetime(2025, 3, 13), datetime(2025, 3, 20)


def parquet(frame: pd.DataFrame) -> bytes:
    content = io.BytesIO()
    frame.to_parquet(content)
    return content.getvalue()


SHEETS = (
    Layout(
        "trials side by side",
        "trials.csv",
        text(
            "Name,Date,Jump 1,Jump 2,Jump 3",
            "Anna Berg,2025-03-13,38.4,39.1,",
            "Bo Lindqvist,2025-03-13,45,46,45.5",
        ),
        session("A1", "2025-03-13", [38.4, 39.1]) + session("A2", "2025-03-13", [45.0, 46.0, 45.5]),
    ),
    Layout(
        "trials in columns that are only numbered, the unit in the title",
        "jump height cm.xlsx",
        book(
            {
                "Jump height (cm)": [
                    ["Athlete", "Date", 1, 2, 3],
                    ["Anna Berg", DAY, 38.4, 39.1, 38.9],
                ]
            }
        ),
        session("A1", "2025-03-13", [38.4, 39.1, 38.9]),
    ),
    Layout(
        "days as columns",
        "days.csv",
        text(
            "Jump height (cm),2025-03-13,2025-03-20,2025-03-27",
            "Anna Berg,38.4,39.1,39.0",
            "Bo Lindqvist,45.0,,46.1",
        ),
        session("A1", "2025-03-13", [38.4])
        + session("A1", "2025-03-20", [39.1])
        + session("A1", "2025-03-27", [39.0])
        + session("A2", "2025-03-13", [45.0])
        + session("A2", "2025-03-27", [46.1]),
    ),
    Layout(
        "athletes as columns",
        "across.xlsx",
        book(
            {
                "Jump (cm)": [
                    ["Date", "Rep", "Anna Berg", "Bo Lindqvist"],
                    [DAY, 1, 38.4, 45.0],
                    [DAY, 2, 39.1, 44.6],
                    [NEXT, 1, 38.8, None],
                ]
            }
        ),
        session("A1", "2025-03-13", [38.4, 39.1])
        + session("A2", "2025-03-13", [45.0, 44.6])
        + session("A1", "2025-03-20", [38.8]),
    ),
    Layout(
        "moments as a spreadsheet has them",
        "moments.xlsx",
        book(
            {
                "Data": [
                    ["Athlete", "When", "Attempt", "Jump height (cm)"],
                    ["A1", datetime(2025, 3, 13, 17, 5), 1, 38.4],
                ]
            }
        ),
        session("A1", "2025-03-13T17:05", [38.4]),
        A_TEST,
    ),
    Layout(
        "clock times as a spreadsheet has them",
        "clocks.xlsx",
        book(
            {
                "Data": [
                    ["Athlete", "Date", "Time", "Rep", "Jump (cm)"],
                    ["A1", DAY, time(9, 30), 1, 38.4],
                    ["A1", DAY, time(9, 30), 2, 39.0],
                ]
            }
        ),
        session("A1", "2025-03-13T09:30", [38.4, 39.0]),
        A_TEST,
    ),
    Layout(
        "days of a spreadsheet that lost their format",
        "serial.xlsx",
        book(
            {
                "Data": [
                    ["Athlete", "Date", "Rep", "Jump (cm)"],
                    ["A1", 45729, 1, 38.4],
                    ["A2", 45736, 1, 45.0],
                ]
            }
        ),
        session("A1", "2025-03-13", [38.4]) + session("A2", "2025-03-20", [45.0]),
    ),
    Layout(
        "numbers kept as text with decimal commas",
        "texts.xlsx",
        book(
            {
                "Daten": [
                    ["Spieler", "Datum", "Versuch", "Sprunghöhe (cm)"],
                    ["Anna Berg", "13.03.2025", "1", "38,4"],
                    ["Anna Berg", "13.03.2025", "2", "39,1"],
                ]
            }
        ),
        session("A1", "2025-03-13", [38.4, 39.1]),
    ),
    Layout(
        "a merged title, two header rows, units under them",
        "merged.xlsx",
        book(
            {
                "Test": [
                    ["Fade test, spring", None, None, None],
                    ["Athlete", "Test", None, "Result"],
                    ["Name", "Date", "Rep", "Jump"],
                    ["", "", "", "(cm)"],
                    ["Anna Berg", DAY, 1, 38.4],
                    ["Anna Berg", DAY, 2, 39.0],
                ]
            },
            merged=["A1:D1", "B2:C2"],
        ),
        session("A1", "2025-03-13", [38.4, 39.0]),
        AT_NINE,
    ),
    Layout(
        "two measures with their trials under a merged head",
        "battery.xlsx",
        book(
            {
                "Day": [
                    [None, None, "CMJ (cm)", None, "Throw speed (km/h)", None],
                    ["Player", "Date", "T1", "T2", "T1", "T2"],
                    ["Anna Berg", DAY, 38.4, 39.0, 72, 73.8],
                    ["Bo Lindqvist", DAY, 45.0, None, 90, None],
                ]
            },
            merged=["C1:D1", "E1:F1"],
        ),
        session("A1", "2025-03-13", [38.4, 39.0])
        + session("A1", "2025-03-13", [20.0, 20.5], "throw_speed")
        + session("A2", "2025-03-13", [45.0])
        + session("A2", "2025-03-13", [25.0], "throw_speed"),
    ),
    Layout(
        "the day above the header, nowhere else",
        "day sheet.xlsx",
        book(
            {
                "Test": [
                    ["Date:", DAY],
                    ["Test:", "Jump height (cm)"],
                    [],
                    ["Name", 1, 2, 3],
                    ["Anna Berg", 38.4, 39.0, 38.7],
                    ["Bo Lindqvist", 45.0, 46.0, 45.2],
                ]
            }
        ),
        session("A1", "2025-03-13", [38.4, 39.0, 38.7])
        + session("A2", "2025-03-13", [45.0, 46.0, 45.2]),
    ),
    Layout(
        "athletes' names only on the first of their rows",
        "blocks.csv",
        text(
            "Athlete,Date,Rep,Jump (cm)",
            "Anna Berg,2025-03-13,1,38.4",
            ",,2,39.0",
            "Bo Lindqvist,2025-03-13,1,45.0",
            ",,2,45.5",
        ),
        session("A1", "2025-03-13", [38.4, 39.0]) + session("A2", "2025-03-13", [45.0, 45.5]),
    ),
    Layout(
        "Parquet with moments and other names",
        "plate.parquet",
        parquet(
            pd.DataFrame(
                {
                    "Athlete": ["A1", "A1"],
                    "Timestamp": pd.to_datetime(["2025-03-13T10:00"] * 2),
                    "Rep": [1, 2],
                    "Jump_m": [0.384, 0.391],
                }
            )
        ),
        session("A1", "2025-03-13T10:00", [38.4, 39.1]),
        A_TEST,
    ),
    Layout(
        "our own columns",
        "efforts.csv",
        text(
            "athlete,started_at,measure,effort,value,volume_before,kind,ambient_c",
            "A1,2025-03-13T10:00,jump_height,1,38.4,12,routine,21",
        ),
        session("A1", "2025-03-13T10:00", [38.4], before=12),
        {},
    ),
    Layout(
        "texts where there was no value",
        "gaps.csv",
        text(
            "Name,Date,Rep,Jump (cm)",
            "Anna Berg,2025-03-13,1,38.4",
            "Anna Berg,2025-03-13,2,n/a",
            "Bo Lindqvist,2025-03-13,1,DNS",
            "Bo Lindqvist,2025-03-13,2,45.0",
        ),
        session("A1", "2025-03-13", [38.4]) + session("A2", "2025-03-13", [0, 45.0])[1:],
        set_aside=2,
    ),
)
