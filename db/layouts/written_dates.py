"""Convert dates and times of day, as people and programs write them, to ISO 8601."""

from __future__ import annotations

import re
from collections.abc import Collection
from datetime import UTC, date, datetime, timedelta

from db.layouts.plain_words import plain

__all__ = ["DATE_FORMS", "date_in", "forms_that_fit", "looks_like_date", "time_of_day"]

DATE_FORMS = ("year first", "day first", "month first", "spreadsheet days", "seconds since 1970")
"""The ways in which a whole column of dates can be written."""
_DIGITS = re.compile(r"(\d{1,2})([./-])\s?(\d{1,2})[./-]\s?(\d{4}|\d{2})(?:[T, ]+(.*))?")
_SHORT_YEAR_FIRST = re.compile(r"(\d{2})-(\d{2})-(\d{2})(?:[T, ]+(.*))?")
_YEAR_FIRST = re.compile(r"(\d{4})[./](\d{1,2})[./](\d{1,2})(?:[T, ]+(.*))?")
_POINTS = re.compile(r"\d{1,2}\.")
_ISO = re.compile(r"\d{4}-\d{2}-\d{2}(?:[T ].*)?")
_COMPACT = re.compile(r"((?:19|20)\d{2})(\d{2})(\d{2})(?:[T _-]?(\d{4}(?:\d{2})?))?")
_NAMED = re.compile(
    r"(\d{1,2})(?:st|nd|rd|th|\.)?[ ./-]*(?:de |of )?([^\W\d]+)\.?[ ./,-]*(?:de )?"
    r"(\d{4}|\d{2})(?:[T, ]+(.*))?"
)
_NAME_FIRST = re.compile(
    r"([^\W\d]+)\.?[ .-]*(\d{1,2})(?:st|nd|rd|th)?,?[ .-]+(\d{4})"
    r"(?:[T, ]+(.*))?"
)
_NUMBER = re.compile(r"\d{5}(?:[.,]\d+)?")
_SECONDS = re.compile(r"\d{10}(?:\d{3})?(?:\.\d+)?")
_WEEKDAY = re.compile(r"([^\W\d]{2,12})\.?,?\s+(?=\S*\d)")
_TIME_OF_DAY = re.compile(
    r"(\d{1,2})[:.h](\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*(?:uhr|h)?\s*(?:([ap])\.?m\.?)?"
    r"((?:Z|[+-]\d{2}:?\d{2})?)",
    re.IGNORECASE,
)
_BARE_TIME = re.compile(r"([01]\d|2[0-3])([0-5]\d)(\d{2})?")
_HOUR_ONLY = re.compile(r"(\d{1,2})\s*([ap])\.?m\.?|(\d{1,2})\s*(?:h|uhr)", re.IGNORECASE)
_SHARE_OF_A_DAY = re.compile(r"0?[.,]\d{3,}")
_MONTHS = (
    "jan ene gen sty tammi",
    "feb fev lut helmi",
    "mar mrt maa maerz marz maalis",
    "apr avr abr kwi huhti",
    "may mai mag maj mei touko maio",
    "jun juin giu cze kesa",
    "jul juil lug lip heina",
    "aug aou ago sie elo",
    "sep set wrz syys",
    "oct okt ott out paz loka",
    "nov lis marras",
    "dec dez dic des gru joulu",
)
_DAYS = (
    "mon mo lun lu seg pon ma maandag man",
    "tue di mar ma ter wto dinsdag ti tis",
    "wed mi mer mie qua sro woensdag ke ons",
    "thu do jeu jue gio qui czw donderdag to tor",
    "fri fr ven vie sex pia vrijdag pe fre",
    "sat sa sam sab sob zaterdag la lor",
    "sun so dim dom nie zondag su son",
)
_EPOCH = datetime(1899, 12, 30)
# A spreadsheet's numbers for days, from 1982 to 2064.
_FIRST_DAY, _LAST_DAY = 30_000, 60_000
_YEARS_BACK = 15


def date_in(text: str, form: str) -> str:
    """Write a date, and any time of day after it, in ISO 8601; leave other text as it is.

    Parameters
    ----------
    text : str
        What a cell says.
    form : str
        How the dates of its column are written, one of `DATE_FORMS`.
    """
    bare, _ = _without_weekday(text)
    return _date_in(bare, form) or (text if bare == text else bare)


def _date_in(text: str, form: str) -> str:
    if form in ("day first", "month first") and (found := _DIGITS.fullmatch(text)):
        day, month = (1, 3) if form == "day first" else (3, 1)
        return _joined(_whole_year(found[4]), found[month], found[day], found[5])
    if form == "year first" and (found := _SHORT_YEAR_FIRST.fullmatch(text)):
        return _joined(_whole_year(found[1]), found[2], found[3], found[4])
    if form == "spreadsheet days" and _NUMBER.fullmatch(text):
        return _of_days(float(text.replace(",", ".")))
    if form == "seconds since 1970" and _SECONDS.fullmatch(text):
        seconds = float(text) / (1000 if len(text.split(".")[0]) > 10 else 1)
        return datetime.fromtimestamp(seconds, UTC).isoformat(timespec="seconds")
    if _ISO.fullmatch(text):
        return ""
    if found := _YEAR_FIRST.fullmatch(text) or _COMPACT.fullmatch(text):
        return _joined(found[1], found[2], found[3], found[4])
    return _named(text)


def _named(text: str) -> str:
    if found := _NAMED.fullmatch(text):
        if month := _month(found[2]):
            return _joined(_whole_year(found[3]), str(month), found[1], found[4])
    elif (found := _NAME_FIRST.fullmatch(text)) and (month := _month(found[1])):
        return _joined(found[3], str(month), found[2], found[4])
    return ""


def forms_that_fit(texts: Collection[str], today: date) -> tuple[str, ...]:
    """Return the forms in which all dates of a column can be read and none is in the future.

    If some forms give only recent years and others do not, only the former fit. A day of the
    week beside a date must match it.

    Parameters
    ----------
    texts : collection of str
        The distinct texts of the column that are not empty.
    today : date
        The last possible day.

    Returns
    -------
    tuple of str
        Forms from `DATE_FORMS`; of those that read every text alike, only the first.
    """
    fitting: dict[str, tuple[date, ...]] = {}
    for form in DATE_FORMS:
        days = [day_of(text, form) for text in texts]
        read = tuple(day for day in days if day is not None)
        if len(read) == len(days) and read and max(read) <= today and read not in fitting.values():
            fitting[form] = read
    # Nobody writes the month first with points in between (common practice).
    if "day first" in fitting and any(map(_POINTS.match, texts)):
        fitting.pop("month first", None)
    recent = {
        form: days for form, days in fitting.items() if min(days).year >= today.year - _YEARS_BACK
    }
    return tuple(recent or fitting)


def day_of(text: str, form: str) -> date | None:
    """Return the day that a text means in a form; None if it is no date, or on another weekday."""
    bare, weekday = _without_weekday(text.strip())
    written = _date_in(bare, form) or (bare if _ISO.fullmatch(bare) else "")
    try:
        day = datetime.fromisoformat(written).date()
    except ValueError:
        return None
    return day if weekday is None or day.weekday() in weekday else None


def looks_like_date(text: str) -> bool:
    """Tell whether a text is a date in one of the forms that are not a count of days or seconds."""
    return any(day_of(text, form) is not None for form in DATE_FORMS[:3])


def time_of_day(text: str) -> str:
    """Write a time of day in ISO 8601; leave other text as it is."""
    bare = text.split("T")[-1].strip()
    if found := _TIME_OF_DAY.fullmatch(bare):
        hour = _hour(int(found[1]), found[4])
        return f"{hour:02d}:{found[2]}:{found[3] or '00'}{found[5]}"
    if found := _BARE_TIME.fullmatch(bare):
        return f"{found[1]}:{found[2]}:{found[3] or '00'}"
    if found := _HOUR_ONLY.fullmatch(bare):
        return f"{_hour(int(found[1] or found[3]), found[2]):02d}:00:00"
    if _SHARE_OF_A_DAY.fullmatch(bare):
        return _of_days(float(bare.replace(",", "."))).split("T")[-1]
    return text


def is_time_of_day(text: str) -> bool:
    """Tell whether a text is a time of day."""
    return bool(re.match(r"([01]\d|2[0-3]):[0-5]\d:", time_of_day(text)))


def _hour(hour: int, half: str | None) -> int:
    return hour % 12 + (12 if half.lower() == "p" else 0) if half else hour


def _joined(year: str, month: str, day: str, clock: str | None) -> str:
    written = f"{year}-{int(month):02d}-{int(day):02d}"
    return f"{written}T{time_of_day(clock)}" if clock else written


def _whole_year(year: str) -> str:
    if len(year) == 4:
        return year
    return f"20{year}" if int(year) < 70 else f"19{year}"


def _of_days(days: float) -> str:
    if days >= 1 and not _FIRST_DAY <= days <= _LAST_DAY:
        return ""
    moment = _EPOCH + timedelta(seconds=round(days * 86_400))
    return moment.date().isoformat() if days == int(days) else moment.isoformat()


def _month(name: str) -> int:
    word = plain(name)
    for place, beginnings in enumerate(_MONTHS):
        if len(word) >= 3 and any(word.startswith(each) for each in beginnings.split()):
            return place + 1
    return 0


def _without_weekday(text: str) -> tuple[str, frozenset[int] | None]:
    """Take the day of the week off the front of a date, and return which days it can be."""
    found = _WEEKDAY.match(text)
    if not found or _month(found[1]) and not _has_month(text[found.end() :]):
        return text, None
    word = plain(found[1])
    meant = frozenset(
        place
        for place, beginnings in enumerate(_DAYS)
        if any(word.startswith(each) for each in beginnings.split())
    )
    return (text[found.end() :], meant) if meant else (text, None)


def _has_month(text: str) -> bool:
    return bool(re.match(r"\d{1,2}\W", text)) and bool(re.search(r"[^\W\d]{3}|\d\W\d", text))
