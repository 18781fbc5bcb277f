"""Files in which clubs share what their squads are like: summaries, and priors from many clubs."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from db.efforts.rows import observations
from db.errors import BadInput
from db.file.settings import get_setting, set_setting, setting_revision
from db.file.store import Store
from db.fits.results import latest_fit, learned_json
from db.roster.measures import Measure

if TYPE_CHECKING:
    from modeling.clubs.learned_summary import LearnedSummary
    from modeling.fit.prior import SquadPrior

SUMMARY, PRIOR = "warmcurve-learned/1", "warmcurve-prior/1"
"""The format that a file names."""

LARGEST_BYTES = 1_000_000

_KEPT = "squad_prior "
_CONSTANTS_ABOUT = "general_minutes", "rest_minutes", "ambient_c", "hour"
"""Columns of sessions, in the order of `modeling.curve.account.CONSTANTS`."""


@dataclass(frozen=True)
class MeasureFacts:
    """What must agree before the numbers of two clubs mean the same thing."""

    code: str
    unit: str
    volume_unit: str
    better: str

    @classmethod
    def of(cls, measure: Measure) -> MeasureFacts:
        """Return the facts of a measure."""
        return cls(measure.code, measure.unit, measure.volume_unit, measure.better)


@dataclass(frozen=True)
class SharedPrior:
    """What to expect of a squad in a measure, and how many clubs it comes from."""

    measure: MeasureFacts
    clubs: int
    prior: SquadPrior


def summary(store: Store, measure: Measure) -> dict[str, Any]:
    """Return what the newest fit of a measure learned of the squad, for a file of summaries.

    Raises
    ------
    BadInput
        If there is no fit, or it has too few athletes to give nobody away.
    """
    from modeling import ModelError, ResponseModel
    from modeling.clubs.learned_summary import learned_summary

    fit, text = latest_fit(store, measure.code), learned_json(store, measure.code)
    if fit is None or text is None:
        raise BadInput(f"{measure.name} has no curves yet. Work them out first.")
    try:
        learned = ResponseModel.from_learned(text).fit_
        found = learned_summary(learned, fit.athletes, _varied_by(store, measure.code))
    except ModelError as error:
        raise BadInput(f"{measure.name} is not written: {error}") from error
    return asdict(MeasureFacts.of(measure)) | asdict(found)


def _varied_by(store: Store, measure: str) -> list[int]:
    """Count, per constant of the account, the athletes whose sessions differ in its column."""
    by_athlete = observations(store, measure).groupby("athlete")
    return [int((by_athlete[name].nunique() > 1).sum()) for name in _CONSTANTS_ABOUT]


def summary_text(found: Sequence[Mapping[str, Any]]) -> str:
    """Return the text of a file of summaries."""
    return json.dumps({"format": SUMMARY, "measures": list(found)}, indent=1)


def pool_files(paths: Sequence[Path]) -> list[SharedPrior]:
    """Pool the summaries in files into a prior for each measure that enough clubs have.

    Raises
    ------
    BadInput
        If a file is not a summary, two files differ in the units of a measure or in what is
        better, or no measure has enough clubs.
    """
    from modeling import ModelError
    from modeling.clubs.learned_summary import LearnedSummary
    from modeling.clubs.squad_prior import pooled
    from modeling.fit.learned import read_plain

    told: dict[str, list[tuple[MeasureFacts, LearnedSummary]]] = {}
    for path in paths:
        for facts in _measures_in(path.name, _content(path), SUMMARY):
            of, rest = _split(path, facts)
            known = told.setdefault(of.code, [])
            if known and known[0][0] != of:
                raise BadInput(
                    f"{path.name} has {of.code} in {of.unit} and {of.volume_unit}, {of.better} is"
                    f" better; an earlier file in {known[0][0].unit} and {known[0][0].volume_unit},"
                    f" {known[0][0].better} is better. Pool only files that agree."
                )
            try:
                known.append((of, read_plain(LearnedSummary, rest)))
            except (KeyError, TypeError, ValueError) as error:
                raise BadInput(_NOT_WHOLE.format(path.name)) from error
    found, why = [], ""
    for known in told.values():
        try:
            prior = pooled([each for _, each in known])
        except ModelError as error:
            why = f"{known[0][0].code}: {error}"
            continue
        found.append(SharedPrior(known[0][0], len(known), prior))
    if not found:
        raise BadInput(why or "These files tell of no measure.")
    return found


def prior_text(found: Sequence[SharedPrior]) -> str:
    """Return the text of a file of priors from many clubs."""
    from modeling.fit.learned import plain

    return json.dumps({"format": PRIOR, "measures": [plain(each) for each in found]}, indent=1)


def read_prior(path: Path) -> list[SharedPrior]:
    """Read a file that holds what `prior_text` wrote.

    Raises
    ------
    BadInput
        If there is no such file, or it holds something else.
    """
    return prior_in(path.name, _content(path))


def prior_in(name: str, content: bytes) -> list[SharedPrior]:
    """Read the content of a file that holds what `prior_text` wrote.

    Raises
    ------
    BadInput
        If it holds something else.
    """
    return [_prior(facts, name) for facts in _measures_in(name, content, PRIOR)]


def keep_priors(
    store: Store, found: Sequence[SharedPrior], measures: Sequence[Measure], person: str
) -> None:
    """Save what other clubs say about measures; every fit begins with it from then on.

    Raises
    ------
    BadInput
        If the file has a measure in other units or with another direction as better, or none
        of the measures.
    """
    from modeling.fit.learned import plain

    by_code = {each.measure.code: each for each in found}
    asked = [(each, by_code[each.code]) for each in measures if each.code in by_code]
    for measure, shared in asked:
        if shared.measure != MeasureFacts.of(measure):
            raise BadInput(
                f"{measure.name} is in {measure.unit} and {measure.volume_unit} here,"
                f" {measure.better} is better; in the file in {shared.measure.unit} and"
                f" {shared.measure.volume_unit}, {shared.measure.better} is better. Its numbers"
                " are of something else: nothing was changed."
            )
    if not asked:
        raise BadInput(
            f"The file tells of {', '.join(sorted(by_code))}, and of no measure asked for."
        )
    for measure, shared in asked:
        set_setting(store, _KEPT + measure.code, json.dumps(plain(shared)), person)


def drop_priors(store: Store, measures: Sequence[Measure], person: str) -> None:
    """Forget what other clubs say about measures; do nothing where nothing is saved."""
    for measure in measures:
        if get_setting(store, _KEPT + measure.code):
            set_setting(store, _KEPT + measure.code, "", person)


def kept_prior(store: Store, measure: str) -> SharedPrior | None:
    """Return the prior that a fit of a measure begins with; None for the model's own.

    Raises
    ------
    BadInput
        If another version saved it and it cannot be read.
    """
    text = get_setting(store, _KEPT + measure)
    if not text:
        return None
    try:
        return _prior(json.loads(text), "")
    except BadInput as error:
        raise BadInput(
            f"What other clubs say of {measure} was saved by another version. Give their file again"
            " by 'warmcurve fit --prior FILE', or go on without it by 'warmcurve fit --prior none'."
        ) from error


def prior_changed(store: Store, measure: str, since: int) -> bool:
    """Tell whether what other clubs say about a measure changed after a revision of the store."""
    return setting_revision(store, _KEPT + measure) > since


def clubs_heard(store: Store, measure: str) -> int:
    """Return how many other clubs the prior of a measure comes from; 0 without a prior."""
    text = get_setting(store, _KEPT + measure)
    return int(json.loads(text)["clubs"]) if text else 0


_NOT_WHOLE = "{} is damaged or of another version. Ask for it again."


def _prior(facts: Mapping[str, Any], name: str) -> SharedPrior:
    from modeling.fit.learned import read_plain
    from modeling.fit.prior import SquadPrior

    try:
        return SharedPrior(
            MeasureFacts(**facts["measure"]),
            int(facts["clubs"]),
            read_plain(SquadPrior, facts["prior"]),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise BadInput(_NOT_WHOLE.format(name)) from error


def _split(path: Path, facts: Mapping[str, Any]) -> tuple[MeasureFacts, dict[str, Any]]:
    names = list(MeasureFacts.__annotations__)
    try:
        of = MeasureFacts(**{name: str(facts[name]) for name in names})
    except KeyError as error:
        raise BadInput(_NOT_WHOLE.format(path.name)) from error
    return of, {name: value for name, value in facts.items() if name not in names}


def _content(path: Path) -> bytes:
    if not path.is_file():
        raise BadInput(f"There is no file {path}.")
    with path.open("rb") as file:
        return file.read(LARGEST_BYTES + 1)


def _measures_in(name: str, content: bytes, kind: str) -> list[Mapping[str, Any]]:
    what = {SUMMARY: "'warmcurve learned export'", PRIOR: "'warmcurve learned pool'"}[kind]
    wanted = f"{name} is no file of {what}."
    if len(content) > LARGEST_BYTES:
        raise BadInput(wanted)
    try:
        told = json.loads(content)
    except (ValueError, RecursionError) as error:
        raise BadInput(wanted) from error
    if not isinstance(told, dict) or told.get("format") != kind:
        raise BadInput(wanted)
    measures = told.get("measures")
    if not isinstance(measures, list) or not all(isinstance(each, dict) for each in measures):
        raise BadInput(_NOT_WHOLE.format(name))
    return measures
