"""What the numbers of a file mean, if a comma or a point can be either of two marks.

`1,200` is 1.2 if the comma is the decimal mark, and 1200 if it separates thousands. The other
numbers of the column show which, or else those of the file, or the person who imports it states it.
Otherwise the number stays in doubt, and its row is set aside with both readings.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from db.errors import BadInput
from db.tables.cells import NUMBER, in_doubt
from db.tables.limits import MOST_SET_ASIDE

DECIMAL_MARKS = {"point": ".", "comma": ","}
_GROUPS = re.compile(r"[+-]?[1-9]\d{0,2}([.,])\d{3}(?:\1\d{3})*", re.ASCII)
_GROUPS_AND_DECIMALS = re.compile(
    r"[+-]?[1-9]\d{0,2}([.,])\d{3}(?:\1\d{3})*(?!\1)([.,])\d*", re.ASCII
)


@dataclass(frozen=True)
class NumberWriting:
    """How the numbers of a file may be written, by the kind of the file.

    Attributes
    ----------
    decimal_comma : bool
        Whether `41,5` is a number.
    points_in_doubt : bool
        Whether a point may separate thousands.
    points_tell : bool
        Whether `41.5` shows that the point is the decimal mark; a number with a data type was
        never written with a mark.
    commas_tell : bool
        Whether numbers with a comma show which mark is the decimal one.
    stated : str
        The decimal mark, if the person who imports the file states it.
    """

    decimal_comma: bool
    points_in_doubt: bool
    points_tell: bool
    commas_tell: bool
    stated: str = ""

    def with_mark(self, name: str) -> NumberWriting:
        """Return the same with the decimal mark stated by its name; an empty name states none.

        Raises
        ------
        BadInput
            If there is no mark of that name.
        """
        if not name:
            return self
        if name not in DECIMAL_MARKS:
            raise BadInput(
                f"The decimal mark cannot be '{name}'; write {' or '.join(DECIMAL_MARKS)}."
            )
        comma = name == "comma"
        return replace(
            self,
            decimal_comma=comma,
            points_in_doubt=comma and self.points_tell,
            stated=DECIMAL_MARKS[name],
        )


OURS = NumberWriting(False, False, False, False)
"""How we write them ourselves."""
BETWEEN_COMMAS = NumberWriting(False, False, points_tell=True, commas_tell=True)
BETWEEN_OTHERS = NumberWriting(True, True, points_tell=True, commas_tell=True)
WITH_TYPES = NumberWriting(False, False, points_tell=False, commas_tell=True)
KEYED_IN = NumberWriting(True, False, points_tell=False, commas_tell=False)


def numbers_as_read(
    columns: Mapping[str, Collection[str]], writing: NumberWriting
) -> dict[str, dict[str, str]]:
    """Return how we would write the numbers of some columns.

    Parameters
    ----------
    columns : mapping of str to collection of str
        The distinct texts of each column, in the order of their rows.
    writing : NumberWriting
        How they may be written.

    Returns
    -------
    dict of str to dict of str to str
        By column and text, how we would write it, where that differs; for a number in doubt,
        what `in_doubt` makes of it. A column ends once it has enough of these for its file to
        be refused.
    """
    shown = {
        name: {mark for text in texts if (mark := _shown_mark(text, writing))}
        for name, texts in columns.items()
    }
    of_all = _only(set().union(*shown.values()))
    read = {}
    for name, texts in columns.items():
        mark = writing.stated or (_only(shown[name]) if shown[name] else of_all)
        read[name] = {text: other for text, other in _read(texts, mark, writing) if other != text}
    return read


def _read(texts: Iterable[str], mark: str, writing: NumberWriting) -> Iterator[tuple[str, str]]:
    """Yield texts with how we would write them, until enough are in doubt to refuse the file."""
    doubts = 0
    for text in texts:
        other = _plain(text, mark, writing)
        yield text, other
        doubts += other.endswith(")")  # as a number in doubt does
        if doubts > MOST_SET_ASIDE:
            return


def _only(marks: set[str]) -> str:
    return next(iter(marks)) if len(marks) == 1 else ""


def _shown_mark(text: str, writing: NumberWriting) -> str:
    """Return the decimal mark that a number shows; empty if it shows none."""
    comma, point = "," in text, "." in text
    if not (comma and writing.commas_tell or point and writing.points_tell):
        return ""
    if found := _GROUPS_AND_DECIMALS.fullmatch(text):
        return found[2]
    if found := _GROUPS.fullmatch(text):
        return _other(found[1]) if text.count(found[1]) > 1 else ""
    if comma and writing.decimal_comma and NUMBER.fullmatch(text.replace(",", ".")):
        return ","
    return "." if point and writing.points_tell and NUMBER.fullmatch(text) else ""


def _plain(text: str, mark: str, writing: NumberWriting) -> str:
    if "," not in text and text.count(".") <= (not writing.points_in_doubt):
        return text
    if found := _GROUPS_AND_DECIMALS.fullmatch(text):
        return text.replace(found[1], "").replace(found[2], ".")
    if found := _GROUPS.fullmatch(text):
        sign = found[1]
        if text.count(sign) > 1:
            return text.replace(sign, "")
        if sign == "." and not writing.points_in_doubt:
            return text
        if not mark:
            return in_doubt(text, sign)
        return text.replace(sign, "." if sign == mark else "")
    plain = text.replace(",", ".")
    return plain if writing.decimal_comma and NUMBER.fullmatch(plain) else text


def _other(mark: str) -> str:
    return "," if mark == "." else "."
