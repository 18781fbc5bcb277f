"""The commands `warmcurve person ...`: who may sign in, and as what."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from dashboard.core.plain_commands import Commands
from dashboard.core.terminal import StoreFile, say, store_at, user

if TYPE_CHECKING:
    from db.file.store import Store
    from db.people.accounts import Person

ALL_ATHLETES = "all athletes"

application = Commands(help="Accounts: who may sign in, and as what.")

Role = Literal["director", "coach", "athlete"]
Name = Annotated[str, typer.Argument(metavar="NAME", help="Sign-in name.")]
Athlete = Annotated[
    str | None,
    typer.Option(metavar="CODE", help="The athlete whose own page the account sees."),
]
Squads = Annotated[
    list[str] | None,
    typer.Option("--squad", metavar="NAME", help="A squad that a coach sees; may be repeated."),
]
AllAthletes = Annotated[
    bool, typer.Option("--all-athletes", help="Lets a coach see all athletes, not some squads.")
]
Generate = Annotated[
    bool, typer.Option("--generate", help="Make a password and print it, instead of asking.")
]


Email = Annotated[
    str | None,
    typer.Option(metavar="ADDRESS", help="E-mail address that the club's sign-in knows them by."),
]


@application.command()
def add(
    name: Name,
    role: Annotated[Role, typer.Option(help="What the account may see and do.")],
    display_name: Annotated[str | None, typer.Option(metavar="NAME", help="Name as shown.")] = None,
    athlete: Athlete = None,
    squad: Squads = None,
    all_athletes: AllAthletes = False,
    email: Email = None,
    generate: Generate = False,
    db: StoreFile = None,
) -> None:
    """Add an account.

    A coach sees nobody until squads or all athletes are named. Asks for the password, or reads it
    from a pipe. Makes the store if there is none.
    """
    from dashboard.sign_in.accounts import hash_password, sign_in_name
    from db.people.accounts import Person, add_person

    store = store_at(db)
    store.create()
    person = Person(sign_in_name(name), display_name or name, role, athlete, email=email)
    person = _with_sight(store, person, squad or (), all_athletes)
    password = _new_password(generate)
    hashed = hash_password(password, person.person, person.display_name)
    add_person(store, person, hashed, user())
    _tell_sight(store, person)
    _hand_over(password, generate)
    say(f"{person.person} can sign in as {role}.")


@application.command("list")
def list_accounts(
    ids: Annotated[
        bool, typer.Option("--ids", help="Print the id by which the server's log calls each.")
    ] = False,
    db: StoreFile = None,
) -> None:
    """List the accounts."""
    from dashboard.club.sight_words import sees
    from dashboard.core.events import account_id
    from db.people.accounts import list_people

    store = store_at(db)
    for person in list_people(store):
        facts = [person.role, f"athlete {person.athlete}" if person.athlete else ""]
        facts.append(sees(store, person) if person.role == "coach" else "")
        facts += [person.email or "", "" if person.active else "not active"]
        if ids:
            facts.append(f"in the log {account_id(store.state().store_id, person.person)}")
        print(f"{person.person}: {person.display_name}, " + ", ".join(filter(None, facts)))


@application.command()
def password(name: Name, generate: Generate = False, db: StoreFile = None) -> None:
    """Change a password.

    Asks for the new one, or reads it from a pipe, and signs the person out everywhere.
    """
    from dashboard.sign_in.accounts import hash_password
    from db.people.accounts import set_password_hash

    new_password = _new_password(generate)
    set_password_hash(store_at(db), name, hash_password(new_password, name), user())
    _hand_over(new_password, generate)
    say(f"The password of {name} is changed.")


@application.command()
def role(
    name: Name,
    role: Annotated[Role, typer.Argument(metavar="ROLE", help="director, coach or athlete.")],
    athlete: Athlete = None,
    squad: Squads = None,
    all_athletes: AllAthletes = False,
    db: StoreFile = None,
) -> None:
    """Change a role, and which athletes a coach sees.

    A coach sees nobody until squads or all athletes are named. Signs the person out everywhere.
    """
    from db.people.accounts import Person, set_role

    store = store_at(db)
    person = _with_sight(store, Person(name, name, role, athlete), squad or (), all_athletes)
    set_role(store, name, role, user(), athlete, person.squads, person.sees_all)
    _tell_sight(store, person)
    say(f"{name} is {role} from now on.")


@application.command()
def email(
    name: Name,
    address: Annotated[
        str, typer.Argument(metavar="ADDRESS", help="The address, or 'none' to take it away.")
    ],
    db: StoreFile = None,
) -> None:
    """Change the e-mail address of an account.

    The club's sign-in knows people by it. Signs the person out everywhere.
    """
    from db.people.accounts import set_email

    email = None if address == "none" else address
    set_email(store_at(db), name, email, user())
    knows = f"by {email}" if email else "no more"
    say(f"The club's sign-in knows {name} {knows}.")


@application.command()
def deactivate(name: Name, db: StoreFile = None) -> None:
    """Keep somebody from signing in.

    Signs them out everywhere; nothing is deleted.
    """
    _set_active(name, False, db)
    say(f"{name} can no longer sign in.")


@application.command()
def activate(name: Name, db: StoreFile = None) -> None:
    """Let somebody sign in again."""
    _set_active(name, True, db)
    say(f"{name} can sign in again.")


def _with_sight(store: Store, person: Person, squads: Sequence[str], all_athletes: bool) -> Person:
    """Return an account with the athletes it may see; on a terminal, ask if none are named."""
    if person.role == "coach" and not squads and not all_athletes and sys.stdin.isatty():
        squads, all_athletes = _asked_sight(store, person.person)
    return replace(person, squads=tuple(sorted(set(squads))), sees_all=all_athletes)


def _tell_sight(store: Store, person: Person) -> None:
    from dashboard.club.sight_words import sees

    how = ""
    if person.limited and not person.squads:
        how = f" To change that: warmcurve person role {person.person} coach --squad NAME."
    say(f"As {person.role} {person.person} {sees(store, person)}.{how}")


def _asked_sight(store: Store, name: str) -> tuple[Sequence[str], bool]:
    from db.roster.squads import squad_names

    there = ", ".join(squad_names(store)) or "none yet"
    say(f"Which athletes does {name} see? The squads are: {there}.")
    answer = typer.prompt(
        f"Squads with commas between, '{ALL_ATHLETES}', or nothing for nobody yet",
        default="",
        show_default=False,
        err=True,
    ).strip()
    named = [squad.strip() for squad in answer.split(",") if squad.strip()]
    return ([], True) if answer.lower() == ALL_ATHLETES else (named, False)


def _set_active(name: str, active: bool, db: StoreFile) -> None:
    from db.people.accounts import set_active

    set_active(store_at(db), name, active, user())


def _new_password(generate: bool) -> str:
    """Return a new password: made, typed twice, or the first line of a pipe."""
    from dashboard.sign_in.accounts import generate_password

    if generate:
        return generate_password()
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\n")
    return str(typer.prompt("Password", hide_input=True, confirmation_prompt=True, err=True))


def _hand_over(password: str, generated: bool) -> None:
    """Print a password that was made here, the only time that it is shown."""
    if generated:
        say("The password, shown this once:")
        print(password)
