"""The form that says where each of our columns comes from in somebody else's file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd
import streamlit as st

from db.imports.mappings import CLOCK, CODED, OWN_UNITS, TIME_FORMS, ColumnMapping, Source
from db.imports.units import UNITS, units_like
from db.roster.measures import Measure
from db.tables.cells import CONTEXTS, KINDS, NEEDED, SESSION_FACTS

NOTHING, FIXED = "(nothing)", "(the same on every row)"
MOST_NAMES = 60
DECIMAL_FORMS = {
    "": "as the file shows",
    "point": "with a decimal point: 1234.5",
    "comma": "with a decimal comma: 1234,5",
}
OPTIONAL = ("volume_before", *SESSION_FACTS, "excluded")
LABELS = {
    "athlete": "Athlete code",
    "started_at": "Start: date, or date and time",
    CLOCK: "Time of day, if in another column",
    "measure": "Measure",
    "effort": "Number of the effort",
    "value": "Value",
    "volume_before": "Volume done before",
}


def mapping_form(
    file: pd.DataFrame,
    measures: Sequence[Measure],
    athletes: Mapping[str, str],
    start: ColumnMapping | None,
    key: str,
) -> ColumnMapping:
    """Show the form, filled in from a mapping or from columns of our own names, and read it.

    Parameters
    ----------
    file : DataFrame
        The file's columns as text.
    measures, athletes : sequence of Measure, mapping of str to str
        What the file's names can stand for; of athletes the name by code.
    start : ColumnMapping or None
        The mapping to begin with.
    key : str
        Another for another file or start.

    Raises
    ------
    BadInput
        If what is chosen so far could read no file.
    """
    form = _Form([str(column) for column in file], measures, start, key)
    side_by_side, grows = form.side_by_side()
    alone = ("effort", "value") if side_by_side else ()
    sources = {
        name: source
        for name in ("athlete", "started_at", CLOCK, "measure", "effort", "value", OPTIONAL[0])
        if name not in alone and (source := form.source(name))
    }
    offered = {"athlete": dict(athletes), "measure": {each.code: each.name for each in measures}}
    for name in CODED:
        if name in sources and sources[name].column:
            sources[name] = form.coded(name, sources[name], file, offered[name])
    time_form = st.selectbox(
        "Dates are written",
        TIME_FORMS,
        index=TIME_FORMS.index(start.time_form) if start else 0,
        key=f"{key}_time_form",
    )
    decimal_mark = st.selectbox(
        "Numbers are written",
        DECIMAL_FORMS,
        index=list(DECIMAL_FORMS).index(start.decimal_mark) if start else 0,
        format_func=lambda mark: DECIMAL_FORMS[mark],
        key=f"{key}_decimal_mark",
    )
    unit = form.value_unit(sources.get("measure"))
    if unit:
        sources["value"] = Source(sources.get("value", Source()).column, unit=unit)
    with st.expander("Facts of the session"):
        facts = {name: source for name in OPTIONAL[1:] if (source := form.source(name))}
    return ColumnMapping(sources | facts, tuple(side_by_side), grows, time_form, decimal_mark)


class _Form:
    def __init__(
        self,
        columns: Sequence[str],
        measures: Sequence[Measure],
        start: ColumnMapping | None,
        key: str,
    ) -> None:
        self.columns = list(columns)
        self.measures = {measure.code: measure for measure in measures}
        self.start = start
        self.key = key

    def side_by_side(self) -> tuple[list[str], bool]:
        """Read the columns of efforts side by side, and whether each effort adds volume."""
        before = [name.lower() for name in self.start.side_by_side] if self.start else []
        if not st.toggle(
            "The efforts of a session stand side by side", bool(before), key=f"{self.key}_wide"
        ):
            return [], True
        chosen = st.multiselect(
            "Columns of effort 1, 2, 3 ..., in this order",
            self.columns,
            [name for name in before if name in self.columns],
            key=f"{self.key}_side",
        )
        grows = st.checkbox(
            "The volume is that of the first effort, and each effort adds one",
            self.start.volume_grows if self.start else True,
            key=f"{self.key}_grows",
        )
        return chosen, grows

    def source(self, name: str) -> Source | None:
        """Read where one of our columns comes from."""
        before = self._before(name)
        choices = [NOTHING, *([] if name == "athlete" else [FIXED]), *self.columns]
        preset = FIXED if before.fixed else before.column.strip().lower()
        label = LABELS.get(name, name.replace("_", " ").capitalize())
        with st.container(horizontal=True):
            chosen = st.selectbox(
                label + (" (needed)" if name in NEEDED else ""),
                choices,
                choices.index(preset) if preset in choices else 0,
                key=f"{self.key}_{name}",
            )
            if chosen == NOTHING:
                return None
            fixed = self._fixed(name, before.fixed, label) if chosen == FIXED else ""
            unit = self._unit(name, before.unit, label)
        return Source("" if chosen == FIXED else chosen, fixed, unit)

    def value_unit(self, measure: Source | None) -> str:
        """Read the unit of the values; empty where it is that of the measure."""
        own = self.measures[measure.fixed].unit if measure and measure.fixed else ""
        offered = units_like(own) or [own] if own else ["", *UNITS]
        before = self._before("value").unit
        chosen = st.selectbox(
            "Values are in",
            offered,
            offered.index(before) if before in offered else 0,
            format_func=lambda unit: unit or "the unit of the measure",
            key=f"{self.key}_value_unit_{own}",
        )
        return "" if chosen == own else chosen

    def coded(
        self, name: str, source: Source, file: pd.DataFrame, offered: Mapping[str, str]
    ) -> Source:
        """Read which of our codes each name stands for that is none of them."""
        written = file[source.column].str.strip().drop_duplicates()
        before = self._before(name).codes
        others = [text for text in written if text and text not in offered]
        if len(others) > MOST_NAMES:
            st.write(f"{len(others)} names are none of ours: is {source.column} the right column?")
        if not 0 < len(others) <= MOST_NAMES:
            return Source(source.column, codes=before)
        said, choices = dict(before), ["", *offered]
        with st.expander(f"{LABELS[name]}: names in the file that are not codes", expanded=True):
            for text in others:
                preset = before.get(text, _like(text, offered))
                chosen = st.selectbox(
                    text,
                    choices,
                    choices.index(preset) if preset in choices else 0,
                    format_func=lambda code: offered.get(code, "(as it is written)"),
                    key=f"{self.key}_{name}_code_{text}",
                )
                said.pop(text, None)
                said |= {text: chosen} if chosen else {}
        return Source(source.column, codes=said)

    def _before(self, name: str) -> Source:
        if self.start is not None:
            return self.start.sources.get(name, Source())
        return Source(name) if name in self.columns else Source()

    def _fixed(self, name: str, before: str, label: str) -> str:
        words = {"measure": list(self.measures), "kind": list(KINDS), "context": list(CONTEXTS)}
        label, key = f"{label}: on every row", f"{self.key}_{name}_fixed"
        if name not in words:
            return st.text_input(label, before, key=key).strip()
        offered = words[name]
        return st.selectbox(
            label, offered, offered.index(before) if before in offered else 0, key=key
        )

    def _unit(self, name: str, before: str, label: str) -> str:
        own = OWN_UNITS.get(name)
        if own is None:
            return ""
        offered = units_like(own)
        chosen = st.selectbox(
            f"{label}: in",
            offered,
            offered.index(before) if before in offered else 0,
            key=f"{self.key}_{name}_unit",
        )
        return "" if chosen == own else chosen


def _like(text: str, offered: Mapping[str, str]) -> str:
    """Return the code whose name or code is the text but for large and small letters."""
    found = [
        code
        for code, name in offered.items()
        if text.casefold() in (code.casefold(), name.casefold())
    ]
    return found[0] if len(found) == 1 else ""
