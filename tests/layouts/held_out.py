"""Fifteen files written first, but not looked at until the reading of the others was done."""

from __future__ import annotations

from datetime import datetime

from tests.layouts.layout import (
    A_TEST,
    INCH_CM,
    Layout,
    book,
    session,
    text,
)

HELD_OUT = (
    Layout(
        "German: surname first, decimal commas, a column of clock times",
        "Sprungtest.csv",
        text(
            "Spieler;Datum;Uhrzeit;Versuch;Sprunghöhe [cm]",
            '"Berg, Anna";13.03.2025;09:30;1;38,4',
            '"Berg, Anna";13.03.2025;09:30;2;39,1',
            '"Müller, Zoë";13.03.2025;10:15;1;33,0',
            '"Müller, Zoë";13.03.2025;10:15;2;33,6',
        ),
        session("A1", "2025-03-13T09:30", [38.4, 39.1])
        + session("A3", "2025-03-13T10:15", [33.0, 33.6]),
        A_TEST,
    ),
    Layout(
        "French: hours written 9h30",
        "tests.csv",
        text(
            "Athlète;Date;Heure;Essai;Hauteur de saut (cm)",
            "Anna Berg;04/03/2025;9h30;1;38,4",
            "Anna Berg;04/03/2025;9h30;2;39,0",
            "Liam O'Connor;18/03/2025;14h05;1;41,2",
        ),
        session("A1", "2025-03-04T09:30", [38.4, 39.0]) + session("A5", "2025-03-18T14:05", [41.2]),
        A_TEST,
    ),
    Layout(
        "Spanish: names in capitals without accents, quoted decimal commas",
        "saltos.csv",
        text(
            "Jugador,Fecha,Salto (cm),Intento",
            'JOSE NUNEZ,21/03/2025,"41,5",1',
            'JOSE NUNEZ,21/03/2025,"42,25",2',
            'MARIA SANTOS-SILVA,21/03/2025,"36,1",1',
        ),
        session("A4", "2025-03-21", [41.5, 42.25]) + session("A6", "2025-03-21", [36.1]),
    ),
    Layout(
        "an export with lines above the header and columns of other things",
        "export.csv",
        text(
            "Device,Plate 2",
            "Exported,2025-04-02 18:22",
            "",
            "ID,Name,Date,Time,Rep,Jump Height (cm),Flight Time (ms),Body Mass (kg)",
            "A1,Anna Berg,2025-04-02,17:05:00,1,38.4,560,61.2",
            "A1,Anna Berg,2025-04-02,17:05:00,2,37.9,556,61.2",
            "A2,Bo Lindqvist,2025-04-02,17:20:00,1,45.0,606,82.5",
        ),
        session("A1", "2025-04-02T17:05", [38.4, 37.9]) + session("A2", "2025-04-02T17:20", [45.0]),
        A_TEST,
    ),
    Layout(
        "trials side by side with their best and mean",
        "jumps.xlsx",
        book(
            {
                "Jumps": [
                    ["Name", "Date", "CMJ 1 (cm)", "CMJ 2 (cm)", "CMJ 3 (cm)", "Best", "Mean"],
                    ["Anna Berg", datetime(2025, 5, 6), 38.4, 39.1, 38.8, 39.1, 38.77],
                    ["Bo Lindqvist", datetime(2025, 5, 6), 45.2, 44.8, 46.0, 46.0, 45.33],
                ]
            }
        ),
        session("A1", "2025-05-06", [38.4, 39.1, 38.8])
        + session("A2", "2025-05-06", [45.2, 44.8, 46.0]),
    ),
    Layout(
        "a row per value with the name of what was measured and its unit",
        "long.csv",
        text(
            "athlete,timestamp,metric,value,unit",
            "A1,2025-03-13T10:00:00Z,Jump height,15.5,in",
            "A1,2025-03-13T10:00:00Z,Jump height,15.9,in",
            "A1,2025-03-13T10:00:00Z,10 m sprint,1.91,s",
            "A2,2025-03-13T10:20:00Z,Jump height,18.0,in",
        ),
        session("A1", "2025-03-13T10:00", [15.5, 15.9], factor=INCH_CM)
        + session("A1", "2025-03-13T10:00", [1.91], "sprint_10m")
        + session("A2", "2025-03-13T10:20", [18.0], factor=INCH_CM),
        A_TEST,
    ),
    Layout(
        "two measures side by side, one effort each",
        "battery.csv",
        text(
            "Player,Date,Jump (cm),10 m (s)",
            "Anna Berg,2025-03-13,38.4,1.95",
            "Bo Lindqvist,2025-03-13,45.1,1.82",
        ),
        session("A1", "2025-03-13", [38.4])
        + session("A1", "2025-03-13", [1.95], "sprint_10m")
        + session("A2", "2025-03-13", [45.1])
        + session("A2", "2025-03-13", [1.82], "sprint_10m"),
    ),
    Layout(
        "two header rows, the upper merged",
        "spring.xlsx",
        book(
            {
                "Spring": [
                    ["", "", "Jump height (cm)", None, None, "10 m sprint (s)", None],
                    ["Athlete", "Date", 1, 2, 3, 1, 2],
                    ["Anna Berg", datetime(2025, 3, 13, 10, 0), 38.4, 39.1, 38.0, 1.95, 1.93],
                    ["Bo Lindqvist", datetime(2025, 3, 13, 10, 30), 45.0, 45.5, None, 1.82, 1.80],
                ]
            },
            merged=["C1:E1", "F1:G1"],
        ),
        session("A1", "2025-03-13T10:00", [38.4, 39.1, 38.0])
        + session("A1", "2025-03-13T10:00", [1.95, 1.93], "sprint_10m")
        + session("A2", "2025-03-13T10:30", [45.0, 45.5])
        + session("A2", "2025-03-13T10:30", [1.82, 1.80], "sprint_10m"),
        A_TEST,
    ),
    Layout(
        "names merged down over their rows",
        "blocks.xlsx",
        book(
            {
                "Test": [
                    ["Athlete", "Date", "Attempt", "Height (cm)"],
                    ["Anna Berg", datetime(2025, 3, 13), 1, 38.4],
                    [None, None, 2, 39.1],
                    [None, None, 3, 38.2],
                    ["Bo Lindqvist", datetime(2025, 3, 13), 1, 45.0],
                    [None, None, 2, 44.1],
                ]
            },
            merged=["A2:A4", "B2:B4", "A5:A6", "B5:B6"],
        ),
        session("A1", "2025-03-13", [38.4, 39.1, 38.2]) + session("A2", "2025-03-13", [45.0, 44.1]),
    ),
    Layout(
        "days of a spreadsheet as numbers in a text file",
        "serials.csv",
        text(
            "athlete,datetime,trial,jump_cm",
            "A1,45729.4375,1,38.4",
            "A1,45729.4375,2,38.9",
            "A2,45730.5,1,44.0",
        ),
        session("A1", "2025-03-13T10:30", [38.4, 38.9]) + session("A2", "2025-03-14T12:00", [44.0]),
        A_TEST,
    ),
    Layout(
        "American dates, clock times with AM and PM, inches",
        "testing day.csv",
        text(
            "Athlete Name,Test Date,Test Time,Trial,Vert (in)",
            '"Berg, Anna",3/13/2025,9:30 AM,1,15.5',
            '"Berg, Anna",3/13/2025,9:30 AM,2,15.75',
            '"O\'Connor, Liam",3/4/2025,2:05 PM,1,17.0',
        ),
        session("A1", "2025-03-13T09:30", [15.5, 15.75], factor=INCH_CM)
        + session("A5", "2025-03-04T14:05", [17.0], factor=INCH_CM),
        A_TEST,
    ),
    Layout(
        "empty lines between athletes, averages at the end",
        "squad.csv",
        text(
            "Name,Date,Jump height (cm)",
            "Anna Berg,2025-03-13,38.4",
            "Anna Berg,2025-03-13,38.6",
            ",,",
            "Bo Lindqvist,2025-03-13,45.0",
            "",
            "Team average,,40.67",
            "Max,,45.0",
        ),
        session("A1", "2025-03-13", [38.4, 38.6]) + session("A2", "2025-03-13", [45.0]),
    ),
    Layout(
        "a row of units under the header",
        "units.csv",
        text(
            "Athlete;Date;Time;Rep;Jump",
            "-;dd.mm.yyyy;hh:mm;#;mm",
            "A1;13.03.2025;10:00;1;384",
            "A1;13.03.2025;10:00;2;391",
            "A3;02.04.2025;10:00;1;330",
        ),
        session("A1", "2025-03-13T10:00", [38.4, 39.1]) + session("A3", "2025-04-02T10:00", [33.0]),
        A_TEST,
    ),
    Layout(
        "Polish headers",
        "skoki.csv",
        text(
            "Zawodnik;Data;Próba;Wysokość skoku (cm)",
            "Łukasz Nowak;13.03.2025;1;44,2",
            "Łukasz Nowak;13.03.2025;2;45,0",
            "Nowak Lukasz;20.03.2025;1;44,6",
        ),
        session("A7", "2025-03-13", [44.2, 45.0]) + session("A7", "2025-03-20", [44.6]),
    ),
    Layout(
        "routine sessions that say how many jumps went before",
        "training.csv",
        text(
            "athlete,date,time,jumps before,height (cm),session type",
            "Anna Berg,2025-03-13,17:30,12,38.4,training",
            "Anna Berg,2025-03-13,17:30,13,38.9,training",
            "Bo Lindqvist,2025-03-15,14:00,20,44.0,game",
        ),
        session("A1", "2025-03-13T17:30", [38.4, 38.9], before=12)
        + session("A2", "2025-03-15T14:00", [44.0], before=20),
        {},
    ),
)
