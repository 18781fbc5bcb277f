"""Text files as people bring them: dates, marks, languages, lines around the rows."""

from __future__ import annotations

from tests.layouts.layout import (
    A_TEST,
    A_TEST_AT_NINE,
    INCH_CM,
    KMH,
    MPH,
    Layout,
    session,
    text,
)

ROUTINE_FROM_15 = {"kind": "routine", "volume": "15", "clock": "09:00"}

TEXTS = (
    Layout(
        "American dates, inches, a comma in every name",
        "inches.csv",
        text(
            "Player,Date,Jump (in),Rep#",
            '"Berg, Anna",03/13/2025,15.5,1',
            '"Berg, Anna",03/13/2025,15.75,2',
            '"Lindqvist, Bo",03/27/2025,18.0,1',
        ),
        session("A1", "2025-03-13", [15.5, 15.75], factor=INCH_CM)
        + session("A2", "2025-03-27", [18.0], factor=INCH_CM),
    ),
    Layout(
        "dates that can be read in two ways",
        "both.csv",
        text(
            "Name,Date,Jump height (cm),Rep",
            "Anna Berg,03/04/2025,38.4,1",
            "Anna Berg,03/04/2025,38.9,2",
            "Bo Lindqvist,05/04/2025,44.0,1",
        ),
        session("A1", "2025-03-04", [38.4, 38.9]) + session("A2", "2025-05-04", [44.0]),
        A_TEST_AT_NINE | {"dates": "month first"},
    ),
    Layout(
        "British dates with the hour",
        "british.csv",
        text(
            "Name,Date and time,Effort,Jump height (cm)",
            "Anna Berg,13/03/2025 18:30,1,38.4",
            "Anna Berg,13/03/2025 18:30,2,38.0",
        ),
        session("A1", "2025-03-13T18:30", [38.4, 38.0]),
        A_TEST,
    ),
    Layout(
        "years of two digits, points between",
        "kurz.csv",
        text(
            "Athlet;Datum;Wert (cm);Nr",
            "A1;13.03.25;38,4;1",
            "A1;13.03.25;38,8;2",
            "A2;04.03.25;44,0;1",
        ),
        session("A1", "2025-03-13", [38.4, 38.8]) + session("A2", "2025-03-04", [44.0]),
        A_TEST_AT_NINE | {"measure:wert (cm)": "jump_height"},
    ),
    Layout(
        "months by their names",
        "months.csv",
        text(
            "Player,Day,Rep,CMJ cm",
            "Anna Berg,13 Mar 2025,1,38.4",
            "Anna Berg,4 May 2025,1,38.9",
            "Bo Lindqvist,April 2 2025,1,44.1",
        ),
        session("A1", "2025-03-13", [38.4])
        + session("A1", "2025-05-04", [38.9])
        + session("A2", "2025-04-02", [44.1]),
    ),
    Layout(
        "German months and days of the week",
        "wochentag.csv",
        text(
            "Name;Tag;Sprung (cm);Versuch",
            "Anna Berg;Do, 13. März 2025;38,4;1",
            "Anna Berg;Fr, 2. Mai 2025;38,8;1",
        ),
        session("A1", "2025-03-13", [38.4]) + session("A1", "2025-05-02", [38.8]),
    ),
    Layout(
        "days of the week that settle the order of day and month",
        "weekday.csv",
        text(
            "Name,Date,Jump (cm),Rep",
            "Anna Berg,Thu 03/04/2025,38.4,1",
            "Bo Lindqvist,Sat 05/04/2025,44.4,1",
        ),
        session("A1", "2025-04-03", [38.4]) + session("A2", "2025-04-05", [44.4]),
    ),
    Layout(
        "dates without a mark between",
        "compact.csv",
        text("id,date,trial,jump_height_cm", "A1,20250313,1,38.4", "A1,20250313,2,39.0"),
        session("A1", "2025-03-13", [38.4, 39.0]),
    ),
    Layout(
        "seconds since 1970",
        "logger.csv",
        text(
            "athlete_id,unix_time,rep,jump_height_m",
            "A1,1741860000,1,0.384",
            "A1,1741860000,2,0.391",
            "A2,1741862400,1,0.450",
        ),
        session("A1", "2025-03-13T10:00", [38.4, 39.1]) + session("A2", "2025-03-13T10:40", [45.0]),
        A_TEST,
    ),
    Layout(
        "spreadsheet days without an hour",
        "days.csv",
        text("Athlete,Date,Rep,Jump height cm", "A1,45729,1,38.4", "A2,45750,1,44.0"),
        session("A1", "2025-03-13", [38.4]) + session("A2", "2025-04-03", [44.0]),
    ),
    Layout(
        "year first with slashes and hours",
        "japan.csv",
        text("Athlete,Start,No,Jump height [cm]", "A1,2025/03/13 9:05,1,38.4"),
        session("A1", "2025-03-13T09:05", [38.4]),
        A_TEST,
    ),
    Layout(
        "moments with the offset from UTC",
        "offset.csv",
        text(
            "athlete,started at,attempt,jump height (cm)",
            "A1,2025-03-13T10:00:00+01:00,1,38.4",
            "A1,2025-03-13T10:00:00+01:00,2,38.1",
        ),
        session("A1", "2025-03-13T10:00", [38.4, 38.1]),
        A_TEST,
    ),
    Layout(
        "clock times as 0930",
        "military.csv",
        text("Name,Date,Time,Rep,Jump (cm)", "Anna Berg,2025-03-13,0930,1,38.4"),
        session("A1", "2025-03-13T09:30", [38.4]),
        A_TEST,
    ),
    Layout(
        "decimal commas, thousands of millimetres",
        "mm.csv",
        text(
            "Sportler;Datum;Versuch;Sprunghöhe (mm)",
            "A1;2025-03-13;1;384,5",
            "A1;2025-03-13;2;391,25",
        ),
        session("A1", "2025-03-13", [38.45, 39.125]),
    ),
    Layout(
        "numbers of three digits after the mark, which the limits settle",
        "three.csv",
        text("Name;Date;Rep;Jump height (cm)", "Anna Berg;2025-03-13;1;38,412"),
        session("A1", "2025-03-13", [38.412]),
    ),
    Layout(
        "units behind every number",
        "cells.csv",
        text(
            "Name,Date,Rep,Jump",
            "Anna Berg,2025-03-13,1,38.4 cm",
            "Bo Lindqvist,2025-03-13,1,45 cm",
        ),
        session("A1", "2025-03-13", [38.4]) + session("A2", "2025-03-13", [45.0]),
    ),
    Layout(
        "no unit anywhere, and only centimetres fit",
        "bare.csv",
        text(
            "Name,Date,Rep,Jump height", "Anna Berg,2025-03-13,1,38.4", "Anna Berg,2025-03-13,2,39"
        ),
        session("A1", "2025-03-13", [38.4, 39.0]),
    ),
    Layout(
        "no unit anywhere, and two fit",
        "two units.csv",
        text(
            "Name,Date,Rep,Jump height", "Anna Berg,2025-03-13,1,22.5", "Anna Berg,2025-03-13,2,23"
        ),
        session("A1", "2025-03-13", [22.5, 23.0], factor=INCH_CM),
        A_TEST_AT_NINE | {"unit:jump height": "in"},
    ),
    Layout(
        "miles an hour",
        "radar.csv",
        text("Pitcher,Date,Throw #,Velo (mph)", "Liam O'Connor,03/13/2025,1,82.5"),
        session("A5", "2025-03-13", [82.5], "throw_speed", factor=MPH),
    ),
    Layout(
        "kilometres an hour in Swedish",
        "kast.csv",
        text(
            "Spelare;Datum;Kast nr;Kasthastighet (km/h)",
            "Bo Lindqvist;2025-03-13;1;92,5",
            "Bo Lindqvist;2025-03-13;2;93",
        ),
        session("A2", "2025-03-13", [92.5, 93.0], "throw_speed", factor=KMH),
    ),
    Layout(
        "a sprint in milliseconds",
        "gates.csv",
        text("Athlete,Date,Run,10m sprint (ms)", "A1,2025-03-13,1,1950", "A1,2025-03-13,2,1935"),
        session("A1", "2025-03-13", [1.95, 1.935], "sprint_10m"),
    ),
    Layout(
        "Italian",
        "salti.csv",
        text(
            "Atleta;Data;Prova;Altezza salto (cm)",
            "Anna Berg;13/03/2025;1;38,4",
            "Jose Nunez;05/04/2025;1;42,0",
        ),
        session("A1", "2025-03-13", [38.4]) + session("A4", "2025-04-05", [42.0]),
    ),
    Layout(
        "Portuguese, all days below 13",
        "saltos.csv",
        text("Jogador;Data;Tentativa;Altura do salto (cm)", "Anna Berg;03/04/2025;1;38,4"),
        session("A1", "2025-04-03", [38.4]),
    ),
    Layout(
        "Dutch",
        "sprong.csv",
        text("Speler;Datum;Poging;Spronghoogte (cm)", "Bo Lindqvist;3-4-2025;1;44,5"),
        session("A2", "2025-04-03", [44.5]),
    ),
    Layout(
        "Finnish sprint",
        "juoksu.csv",
        text("Urheilija;Päivämäärä;Yritys;10 m juoksu (s)", "Maria Santos-Silva;3.4.2025;1;1,98"),
        session("A6", "2025-04-03", [1.98], "sprint_10m"),
    ),
    Layout(
        "first and last names in two columns",
        "two names.csv",
        text(
            "First name,Last name,Date,Rep,Jump (cm)",
            "Anna,Berg,2025-03-13,1,38.4",
            "Zoe,Muller,2025-03-13,1,33.0",
        ),
        session("A1", "2025-03-13", [38.4]) + session("A3", "2025-03-13", [33.0]),
    ),
    Layout(
        "a nickname, asked about",
        "nick.csv",
        text("Name,Date,Rep,Jump (cm)", "Pepe,2025-03-13,1,42.0", "Anna Berg,2025-03-13,1,38.4"),
        session("A4", "2025-03-13", [42.0]) + session("A1", "2025-03-13", [38.4]),
        A_TEST_AT_NINE | {"athlete:Pepe": "A4"},
    ),
    Layout(
        "the efforts are not numbered",
        "unnumbered.csv",
        text(
            "athlete,date,jump (cm)",
            "A1,2025-03-13,38.4",
            "A2,2025-03-13,45.0",
            "A1,2025-03-13,39.0",
            "A2,2025-03-13,44.0",
        ),
        session("A1", "2025-03-13", [38.4, 39.0]) + session("A2", "2025-03-13", [45.0, 44.0]),
    ),
    Layout(
        "training after a warm-up of fifteen",
        "after.csv",
        text("athlete,date,rep,jump (cm)", "A1,2025-03-13,1,38.4", "A1,2025-03-13,2,39.0"),
        session("A1", "2025-03-13", [38.4, 39.0], before=15),
        ROUTINE_FROM_15,
    ),
    Layout(
        "a title, an empty line, and totals",
        "titled.csv",
        text(
            "Spring camp: jump tests",
            "",
            "Name;Date;Rep;Jump (cm)",
            "Anna Berg;2025-03-13;1;38.4",
            "Bo Lindqvist;2025-03-13;1;45.0",
            "Total;;2;83.4",
            "Average;;;41.7",
        ),
        session("A1", "2025-03-13", [38.4]) + session("A2", "2025-03-13", [45.0]),
    ),
)
