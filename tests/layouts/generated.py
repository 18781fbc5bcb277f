"""Files made at random from what people vary: words, dates, marks, units, shapes, other lines.

Each comes with the truth. There are more of them than anybody would check one by one, to reveal
what is silently read wrongly.
"""

from __future__ import annotations

import csv
import io
from datetime import date, datetime, time, timedelta

import numpy as np

from db.layouts.plain_words import plain
from tests.layouts.layout import ATHLETES, INCH_CM, KMH, MPH, Effort, Layout, book

__all__ = ["generated"]

HEADERS = {
    "English": ("Athlete", "Date", "Time", "Rep", "Jump height", "10 m sprint", "Throw speed"),
    "short": ("Player", "Day", "Clock", "Trial", "CMJ", "Sprint 10m", "Velo"),
    "German": ("Spieler", "Datum", "Uhrzeit", "Versuch", "Sprunghöhe", "10 m Sprint", "Wurf"),
    "French": ("Joueur", "Date", "Heure", "Essai", "Saut", "Sprint 10 m", "Vitesse de lancer"),
    "Spanish": ("Jugador", "Fecha", "Hora", "Intento", "Salto", "Sprint 10 m", "Lanzamiento"),
    "Italian": ("Atleta", "Data", "Ora", "Prova", "Salto", "Sprint 10 m", "Lancio"),
    "Polish": ("Zawodnik", "Data", "Godzina", "Próba", "Skok", "Bieg 10 m", "Rzut"),
    "Swedish": ("Spelare", "Datum", "Tid", "Försök", "Hopphöjd", "Löpning 10 m", "Kast"),
}
UNITS = {
    "jump_height": {"cm": 1.0, "in": INCH_CM, "m": 100.0, "mm": 0.1},
    "sprint_10m": {"s": 1.0, "ms": 0.001},
    "throw_speed": {"m/s": 1.0, "km/h": KMH, "mph": MPH},
}
USUAL = {"jump_height": (30.0, 50.0), "sprint_10m": (1.7, 2.2), "throw_speed": (18.0, 35.0)}
PLACES = {"jump_height": 4, "sprint_10m": 5, "throw_speed": 6}
DIGITS = {"cm": 1, "in": 2, "m": 3, "mm": 0, "s": 2, "ms": 0, "m/s": 2, "km/h": 1, "mph": 1}
DATES: dict[str, tuple[str, str]] = {
    "iso": ("%Y-%m-%d", ""),
    "slashes, day first": ("%d/%m/%Y", "day first"),
    "slashes, month first": ("%m/%d/%Y", "month first"),
    "points": ("%d.%m.%Y", ""),
    "short": ("%d.%m.%y", ""),
    "named": ("%d %b %Y", ""),
}
Cells = list[list[str]]


class _Made:
    """One file, made at random from its number."""

    def __init__(self, number: int) -> None:
        self.random = np.random.default_rng(number)
        self.language = self.one(list(HEADERS))
        self.words = HEADERS[self.language]
        english = self.language in ("English", "short")
        self.dates = self.one([name for name in DATES if english or "month" not in name])
        self.clock = self.one(["", "column", "beside"])
        self.comma = bool(self.random.random() < (0.1 if english else 0.7))
        self.shape = self.one(["rows", "rows", "trials", "two measures", "measure column", "days"])
        self.numbered = bool(self.random.random() < 0.7) or self.clock == "each"
        self.unit_at = self.one(["brackets", "brackets", "suffix", "row", "behind", "nowhere"])
        self.names = self.one(["code", "name", "surname first", "capitals", "two columns"])
        measures = list(UNITS)
        self.random.shuffle(measures)
        self.measures = measures[: 2 if "measure" in self.shape else 1]
        self.units = {each: self.one(list(UNITS[each])) for each in self.measures}
        self.truth: list[Effort] = []
        self.answers = {"kind": "fade"}
        if self.shape == "days":
            self.clock, self.names = "", "name" if self.names == "two columns" else self.names
        if not self.clock:
            self.answers["clock"] = "09:00"

    def one(self, choices: list[str]) -> str:
        return choices[int(self.random.integers(len(choices)))]

    def layout(self, number: int) -> Layout:
        table = {"days": self.days, "trials": self.trials}.get(self.shape, self.rows)()
        self.allow_questions()
        ending = self.one(["csv", "csv", "txt", "xlsx"])
        around = self.around(table)
        return Layout(
            f"{number}: {self.language}, {self.shape}, {self.dates}, {self.clock or 'no'} clock, "
            f"{self.unit_at}, {'comma' if self.comma else 'point'}, {self.names}",
            f"file {number}.{ending}",
            book({"Data": around}) if ending == "xlsx" else self.as_text(around, ending),
            tuple(self.truth),
            self.answers,
        )

    def allow_questions(self) -> None:
        form = DATES[self.dates][1]
        days = {effort.started_at[8:10] for effort in self.truth}
        if form and self.language in ("English", "short") and max(days) <= "12":
            self.answers["dates"] = form
        if self.unit_at == "nowhere":
            for title, measure in self.titles.items():
                self.answers[f"unit:{title.lower()}"] = self.units[measure]

    def head_of(self, measure: str, more: str = "") -> str:
        word, unit = self.words[PLACES[measure]], self.units[measure]
        spaced = f" {more}" if more else ""
        if self.unit_at == "brackets":
            title = f"{word}{spaced} ({unit})"
        elif self.unit_at == "suffix" and not more and unit in ("cm", "mm", "ms", "km/h", "mph"):
            title = f"{word} {unit}"
        elif self.unit_at == "suffix":
            title = f"{word}{spaced} [{unit}]"
        else:
            title = f"{word}{spaced}"
        self.titles.setdefault(title, measure)
        return title

    titles: dict[str, str]

    def value(self, measure: str) -> tuple[str, float]:
        """Return a value as it is written, and in the unit of the measure."""
        low, high = USUAL[measure]
        unit = self.units[measure]
        factor = UNITS[measure][unit]
        number = round(float(self.random.uniform(low, high)) / factor, DIGITS[unit])
        written = f"{number:.{DIGITS[unit]}f}"
        written = written.replace(".", ",") if self.comma else written
        behind = f" {unit}" if self.unit_at == "behind" else ""
        return written + behind, round(number * factor, 4)

    def people(self) -> list[str]:
        codes = list(ATHLETES)
        self.random.shuffle(codes)
        return codes[: int(self.random.integers(2, 6))]

    def who(self, code: str) -> list[str]:
        name = ATHLETES[code]
        first, _, last = name.partition(" ")
        return {
            "code": [code],
            "name": [name],
            "surname first": [f"{last}, {first}"],
            "capitals": [plain(name).upper()],
            "two columns": [first, last],
        }[self.names]

    def who_head(self) -> list[str]:
        return ["First name", "Last name"] if self.names == "two columns" else [self.words[0]]

    def starts(self) -> list[datetime]:
        first = date(2025, 1, 1) + timedelta(days=int(self.random.integers(0, 300)))
        days = [first + timedelta(days=int(step)) for step in (0, *self.random.integers(1, 60, 1))]
        at = time(int(self.random.integers(8, 20)), int(self.random.integers(0, 4)) * 15)
        return [datetime.combine(day, at if self.clock else time(9)) for day in days]

    def day(self, start: datetime) -> list[str]:
        written = start.strftime(DATES[self.dates][0])
        if self.clock == "beside":
            return [f"{written} {start:%H:%M}"]
        return [written, f"{start:%H:%M}"] if self.clock == "column" else [written]

    def day_head(self) -> list[str]:
        return [self.words[1], self.words[2]] if self.clock == "column" else [self.words[1]]

    def add(self, code: str, start: datetime, measure: str, effort: int, value: float) -> None:
        at = start.isoformat("T", "minutes")
        self.truth.append(Effort(code, at, measure, effort, value, effort - 1))

    def rows(self) -> Cells:
        self.titles = {}
        by_column = self.shape == "measure column"
        head = [*self.who_head(), *self.day_head(), *[self.words[3]] * self.numbered]
        if by_column:
            self.unit_at = "brackets"
            head += ["Test", "Result"]
            names = {each: self.head_of(each) for each in self.measures}
        else:
            head += [self.head_of(each) for each in self.measures]
        table, lines = [head], []
        for code in self.people():
            for start in self.starts():
                for effort in range(1, int(self.random.integers(2, 6))):
                    own = [*self.who(code), *self.day(start), *[str(effort)] * self.numbered]
                    values = {each: self.value(each) for each in self.measures}
                    for measure, (_, value) in values.items():
                        self.add(code, start, measure, effort, value)
                    written = {each: text for each, (text, _) in values.items()}
                    if by_column:
                        lines += [[*own, names[each], text] for each, text in written.items()]
                    else:
                        lines.append([*own, *written.values()])
        return table + self.with_units(head) + lines

    def with_units(self, head: list[str]) -> Cells:
        if self.unit_at != "row":
            return []
        return [[self.units[self.titles[each]] if each in self.titles else "" for each in head]]

    def trials(self) -> Cells:
        self.titles = {}
        [measure] = self.measures
        tries = int(self.random.integers(2, 7))
        if self.unit_at == "suffix":
            self.unit_at = "brackets"
        heads = [self.head_of(measure, str(number)) for number in range(1, tries + 1)]
        head = [*self.who_head(), *self.day_head(), *heads]
        lines = []
        for code in self.people():
            for start in self.starts():
                values = [self.value(measure) for _ in range(tries)]
                done = int(self.random.integers(1, tries + 1))
                for number, (_, value) in enumerate(values[:done], 1):
                    self.add(code, start, measure, number, value)
                written = [text if at < done else "" for at, (text, _) in enumerate(values)]
                lines.append([*self.who(code), *self.day(start), *written])
        return [head, *self.with_units(head), *lines]

    def days(self) -> Cells:
        self.titles = {}
        [measure] = self.measures
        self.unit_at = "brackets"
        starts = self.starts()
        heads = [self.day(start)[0] for start in dict.fromkeys(starts)]
        lines = []
        for code in self.people():
            values = [self.value(measure) for _ in heads]
            for start, (_, value) in zip(dict.fromkeys(starts), values, strict=True):
                self.add(code, start, measure, 1, value)
            lines.append([*self.who(code), *[text for text, _ in values]])
        return [[self.head_of(measure), *heads], *lines]

    def around(self, table: Cells) -> Cells:
        """Add titles above, totals below and unrelated columns beside the rows."""
        head, *lines = table
        if self.random.random() < 0.3 and self.shape != "days":
            head = [*head, self.one(["Age", "Body mass (kg)", "RSI", "Lane"])]
            lines = [
                [*line, str(self.random.integers(17, 35)) if line[0] else ""] for line in lines
            ]
        if self.random.random() < 0.3:
            lines = [*lines, [self.one(["Average", "Total", "Mean"]), *[""] * (len(head) - 2), "9"]]
        if self.random.random() < 0.3:
            return [["Testing in the hall"], [], head, *lines]
        return [head, *lines]

    def as_text(self, table: Cells, ending: str) -> bytes:
        text = io.StringIO()
        mark = "\t" if ending == "txt" else ";" if self.comma else ","
        csv.writer(text, delimiter=mark, lineterminator="\n").writerows(table)
        return text.getvalue().encode()


def generated(number: int) -> Layout:
    """Make the file with this number, which is always the same."""
    return _Made(number).layout(number)
