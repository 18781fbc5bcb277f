"""Commands whose help and refusals are in plain words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import typer
from typer.core import TyperArgument, TyperCommand, TyperGroup, TyperOption
from typer.exceptions import TyperException

from dashboard.core.failures import SAFE
from dashboard.core.terminal import say, sentences_of

Parameter = TyperArgument | TyperOption


class Commands(typer.Typer):
    """A group of plain commands."""

    def __init__(self, **more: Any) -> None:
        super().__init__(no_args_is_help=True, rich_markup_mode=None, **more)

    def command(self, name: str | None = None, **more: Any) -> Callable[..., Any]:
        """Return a decorator that makes a function a plain command."""
        return super().command(name, cls=PlainCommand, **more)


class PlainGroup(TyperGroup):
    """A group of commands whose failures are one sentence and exit status 1."""

    def invoke(self, ctx: Any) -> Any:
        """Run the command that was named."""
        from db.file.waits import telling_of_waits

        try:
            with telling_of_waits(say):
                return super().invoke(ctx)
        except typer.BadParameter as error:
            raise Refusal(refusal_of(error), ctx=error.ctx) from error
        except (TyperException, typer.Exit, BrokenPipeError):
            raise
        except (KeyboardInterrupt, EOFError, typer.Abort) as stop:
            say(f"Stopped. {SAFE} Run it again for the rest.")
            raise typer.Exit(1) from stop
        except Exception as error:
            say(sentences_of(error))
            raise typer.Exit(1) from error


class PlainCommand(TyperCommand):
    """A command whose help names what to type, without Python types."""

    def collect_usage_pieces(self, ctx: Any) -> list[str]:
        """Return the words after the command's name, optional ones in brackets."""
        arguments = [each for each in self.get_params(ctx) if isinstance(each, TyperArgument)]
        names = [name_of(each) if each.required else f"[{name_of(each)}]" for each in arguments]
        return ["[OPTIONS]", *names]

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write what each argument and option is for."""
        parameters = self.get_params(ctx)
        for heading, kind in (("Arguments", TyperArgument), ("Options", TyperOption)):
            rows = [_help_row(each) for each in parameters if isinstance(each, kind)]
            if rows:
                with formatter.section(heading):
                    formatter.write_dl(rows)


class Refusal(typer.BadParameter):
    """One sentence that refuses what was typed."""

    def format_message(self) -> str:
        """Return the sentence as it is."""
        return self.message


def refusal_of(error: typer.BadParameter) -> str:
    """Return the sentence for a value that an option or argument does not take."""
    parameter = error.param
    if not isinstance(parameter, Parameter):
        return error.message
    name, kind = name_of(parameter), parameter.type_descriptor
    given = _given(error)
    if given is None and not error.message:
        choose = f" It is {_one_of(kind.choices)}." if kind.choices else ""
        return f"{name} is missing.{choose}"
    if given is None:
        return f"{name}: {error.message}"
    if kind.choices:
        return f"{name} is {_one_of(kind.choices)}, not '{given}'."
    if kind.is_datetime and "%H:%M" in (kind.parameter_info.formats or ()):
        return f"'{given}' is no time of day for {name}. Write it as 14:30."
    if kind.is_datetime:
        return f"'{given}' is no day for {name}. Write it as 2026-03-14."
    if kind.annotation in (int, float):
        whole = "whole " if kind.annotation is int else ""
        return f"{name} takes a {whole}number{_range(parameter)}, not '{given}'."
    return f"{name}: {error.message}"


def name_of(parameter: Parameter) -> str:
    """Return what people call an option or argument."""
    if isinstance(parameter, TyperOption):
        return str(parameter.opts[0])
    return parameter.metavar or str(parameter.name).upper()


def ending(*allowed: str) -> Callable[[Path | None], Path | None]:
    """Return a check that refuses file names with another ending, before anything is done."""

    def check(file: Path | None) -> Path | None:
        if file is None or file.suffix.lower() in allowed:
            return file
        raise typer.BadParameter(
            f"the name must end in {_one_of(allowed)}, and {file.name} does not."
        )

    return check


def folder_name(path: Path | None) -> Path | None:
    """Refuse the name of a file where a folder is wanted."""
    if path is not None and (path.suffix or path.is_file()):
        raise typer.BadParameter(f"this is the name of a folder, and {path.name} is one of a file.")
    return path


def known_day(day: datetime) -> datetime:
    """Refuse a day before `FIRST_DAY` or after `LAST_DAY`."""
    from dashboard.core.dates import FIRST_DAY, LAST_DAY

    if FIRST_DAY <= day.date() <= LAST_DAY:
        return day
    raise typer.BadParameter(f"the year must be from {FIRST_DAY.year} to {LAST_DAY.year}.")


def _given(error: typer.BadParameter) -> object | None:
    """Return what was typed if it could not be read, else None."""
    read = getattr(error.__cause__, "errors", None)
    return read()[0]["input"] if read else None


def _help_row(parameter: Parameter) -> tuple[str, str]:
    name = name_of(parameter)
    if isinstance(parameter, TyperOption):
        name = ", ".join(parameter.opts)
        if not parameter.is_flag:
            name += f" {parameter.metavar or _kind(parameter)}"
    notes = ["required"] if parameter.required else []
    if span := _range(parameter):
        notes.append(span.strip())
    if isinstance(parameter.default, str) and parameter.default:
        notes.append(f"without it, {parameter.default}")
    if isinstance(parameter.envvar, str):
        notes.append(f"or set {parameter.envvar}")
    told = [parameter.help or "", f"[{'; '.join(notes)}]" if notes else ""]
    return name, " ".join(filter(None, told))


def _kind(parameter: Parameter) -> str:
    kind = parameter.type_descriptor
    if kind.choices:
        return "|".join(map(str, kind.choices))
    return {int: "NUMBER", float: "NUMBER", Path: "FILE"}.get(kind.annotation, "TEXT")


def _range(parameter: Parameter) -> str:
    info = parameter.type_descriptor.parameter_info
    lowest = "" if info.min is None else f" from {info.min:g}"
    return lowest if info.max is None else f"{lowest} to {info.max:g}"


def _one_of(words: Sequence[object] | None) -> str:
    *first, last = map(str, words or ())
    return f"{', '.join(first)} or {last}" if first else last
