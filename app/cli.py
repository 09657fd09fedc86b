"""The command `chuckkey`. Exit status: 0 done, 1 refused or not cleared, 2 wrong usage."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime
from functools import partial, wraps
from pathlib import Path
from typing import Any, NoReturn

import click
from sqlalchemy import func, or_, select
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from app import schema
from app.clock import Clock
from app.dates import local_date
from app.db import AnyRow, Database
from app.errors import NotFound, Refused
from app.machines.models import Machine, Tag
from app.machines.tags import read_code
from app.parts import Parts
from app.people.models import Person
from app.settings import settings_from
from app.site import site
from app.storage import Files
from assessments.errors import Refused as CalculationRefused
from assessments.limits import Limits

EXISTING = click.Path(path_type=Path, exists=True, dir_okay=False)
DEMO_DATA = Path(__file__).parents[1] / ".demo"


def main() -> NoReturn:
    """Run the command and turn what went wrong into one sentence."""
    try:
        # Without its standalone mode, click returns the status that a command asked for.
        status = commands.main(standalone_mode=False)
    except click.ClickException as error:
        click.echo(f"chuckkey: {error.format_message()}", err=True)
        sys.exit(1 if isinstance(error, _Sentence) else 2)
    except click.Abort:
        sys.exit(1)
    sys.exit(status)


class _Sentence(click.ClickException):
    """A refusal, said in one sentence."""

    exit_code = 1

    def show(self, file: Any = None) -> None:
        click.echo(f"chuckkey: {self.format_message()}", err=True)


class _Command(click.Command):
    """A command whose refusals are sentences, as `chuckkey` and as `flask --app app`."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except (Refused, CalculationRefused) as error:
            raise _Sentence(error.sentence) from error
        except DBAPIError as error:
            raise _Sentence(f"The register cannot be used: {error.orig}.") from error
        except OSError as error:
            what = error.filename or "A file"
            raise _Sentence(f"{what} cannot be used: {error.strerror}.") from error


class _Commands(click.Group):
    command_class = _Command


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
def commands() -> None:
    """Inductions, risk assessments and clearances of a making workshop."""


def _parts(data: Path | None, **changes: str) -> Parts:
    settings = settings_from({**os.environ, **changes}, data=data)
    return Parts(
        settings=settings,
        database=Database(settings.database_url),
        clock=Clock(),
        files=Files(settings.files),
    )


def _with_parts(command: Callable[..., None]) -> Callable[..., None]:
    """Give the command the program's parts, with the schema in order."""

    @click.option("--data", type=click.Path(path_type=Path), help="Folder of the data.")
    @wraps(command)
    def run(data: Path | None, **given: Any) -> None:
        parts = _parts(data)
        schema.prepare(parts.database, parts.settings)
        command(parts, **given)

    return run


# --- asking ------------------------------------------------------------------------------


@commands.command()
@click.argument("person")
@click.argument("machine")
@click.option("--at", metavar="ISO", help="Moment to ask about; without a zone: the site's.")
@click.option(
    "--as-known-then",
    "then",
    is_flag=True,
    help="Count only what had been recorded by that moment; the answer as known now beside it.",
)
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
@_with_parts
def clearance(
    parts: Parts, person: str, machine: str, at: str | None, then: bool, as_json: bool
) -> None:
    """May PERSON (e-mail, card, number or name) start MACHINE (tag, number or name)?

    Exit status 0 only if the answer is `cleared`; with --as-known-then that of then.
    """
    from app.clearance.answer import answer, answer_words

    with parts.database.read() as session:
        zone = site(session).tz
        asked: dict[str, Any] = {
            "machine_id": _machine(session, machine).id,
            "person_id": _person(session, person).id,
            "at": (moment := _moment(at, parts, zone)),
            "zone": zone,
        }
        found = answer(session, **asked, known=moment if then else None)
        as_known_now = answer(session, **asked) if then else None
    if as_json:
        both = found if as_known_now is None else {**found, "as_known_now": as_known_now}
        click.echo(json.dumps(both, ensure_ascii=False, indent=2))
    else:
        click.echo(answer_words(found))
        if as_known_now is not None:
            click.echo(f"\nAs known now:\n{answer_words(as_known_now)}")
    if found["verdict"] != "cleared":
        raise click.exceptions.Exit(1)


def _moment(written: str | None, parts: Parts, zone: Any) -> datetime:
    if written is None:
        return parts.clock.now()
    try:
        moment = datetime.fromisoformat(written)
        moment = moment if moment.tzinfo else moment.replace(tzinfo=zone)
        return moment.astimezone(UTC)
    except (ValueError, OverflowError):
        raise click.BadParameter(
            f"{written!r} is not an ISO moment, such as 2026-11-25T09:30.", param_hint="--at"
        ) from None


def _one(rows: list[Any], what: str, asked: str) -> Any:
    if not rows:
        raise NotFound(f"There is no {what} “{asked}”.")
    if len(rows) > 1:
        raise Refused(f"“{asked}” could be {len(rows)} of them: say the number or the code.")
    return rows[0]


def _person(session: Session, asked: str) -> Person:
    by = [
        Person.email == asked.lower(),
        Person.card == asked,
        func.lower(Person.name) == asked.lower(),
    ]
    if asked.isascii() and asked.isdigit() and len(asked) < 19:
        by.append(Person.id == int(asked))
    rows = session.execute(select(Person).where(Person.erased_at.is_(None), or_(*by))).scalars()
    found: Person = _one(list(rows), "person", asked)
    return found


def _machine(session: Session, asked: str) -> AnyRow:
    by = [func.lower(Machine.name) == asked.lower(), Tag.code == read_code(asked)]
    if asked.isascii() and asked.isdigit() and len(asked) < 19:
        by.append(Machine.id == int(asked))
    rows = session.execute(
        select(Machine.id, Machine.name)
        .distinct()
        .outerjoin(Tag, (Tag.machine_id == Machine.id) & Tag.retired_at.is_(None))
        .where(or_(*by))
    ).all()
    found: AnyRow = _one(list(rows), "machine", asked)
    return found


@commands.command()
@click.argument("machine")
@click.option("--pdf", type=click.Path(path_type=Path, dir_okay=False), required=True)
@_with_parts
def assessment(parts: Parts, machine: str, pdf: Path) -> None:
    """Write the risk assessment in force for MACHINE as a PDF; it is kept as issued."""
    from app.documents.issue import issue_print
    from app.risk_assessments.in_force import revisions_for

    with parts.database.read() as session:
        found = _machine(session, machine)
        revisions = revisions_for(session, [found.id], at=parts.clock.now())
    if not revisions:
        raise Refused(f"No approved risk assessment is in force for {found.name}.")
    digest = issue_print(parts.database, parts.files, parts.clock, parts.settings, revisions[0].id)
    _write(pdf, parts.files.read(digest))
    if len(revisions) > 1:
        click.echo(f"{len(revisions)} assessments cover it; this is the first.", err=True)


@commands.command()
@click.argument("machine")
@click.option("--pdf", type=click.Path(path_type=Path, dir_okay=False), required=True)
@click.option("--sheet", default="label", show_default=True, help="Size of the label.")
@_with_parts
def label(parts: Parts, machine: str, pdf: Path, sheet: str) -> None:
    """Write the label of MACHINE as a PDF."""
    from app.labels.make import make_labels
    from app.machines.tags import address_warning

    with parts.database.read() as session:
        found = _machine(session, machine)
    made_with = (parts.database, parts.files, parts.clock, parts.settings)
    digest = make_labels(*made_with, [found.id], sheet=sheet)
    _write(pdf, parts.files.read(digest))
    warning = address_warning(parts.settings.public_url)
    if warning:
        click.echo(warning, err=True)


@commands.command()
@click.argument("code")
@click.option("--to", "machine", metavar="MACHINE", help="Let the label speak for this machine.")
@click.option("--retire", is_flag=True, help="Let the label speak for nothing any more.")
@_with_parts
def tag(parts: Parts, code: str, machine: str | None, retire: bool) -> None:
    """Point the printed CODE at another machine, its successor, or retire it.

    Whoever has the command on the server is not known to it: the log names nobody.
    """
    from app.machines import tags

    if (machine is None) is not retire:
        raise click.UsageError("Say either --to MACHINE or --retire.")
    now = parts.clock.now()
    with parts.database.write() as session:
        row = session.execute(
            select(Tag).where(Tag.code == read_code(code), Tag.retired_at.is_(None))
        ).scalar_one_or_none()
        if row is None:
            raise NotFound(f"There is no live tag “{code}”.")
        if machine is None:
            tags.retire(session, row, actor_id=None, now=now)
            click.echo(f"{row.code} is retired.")
            return
        successor = session.get_one(Machine, _machine(session, machine).id)
        tags.repoint(session, row, successor, actor_id=None, now=now)
        click.echo(f"{row.code} speaks for {successor.name} from now on.")


@commands.command()
@click.option("--pdf", type=click.Path(path_type=Path, dir_okay=False), required=True)
@click.option("--from", "first_on", metavar="DAY", help="First day; a year back by default.")
@click.option("--to", "last_on", metavar="DAY", help="Last day, whose state is told; today.")
@click.option("--area", "areas", multiple=True, metavar="NAME", help="Of these areas alone.")
@click.option("--samples", default=3, show_default=True, type=click.IntRange(0, 20))
@click.option("--seed", help="By which samples are picked; it stands in the pack.")
@click.option("--as-known-then", "then", is_flag=True, help="Leave out what came on record later.")
@click.option("--signatory", default="the server’s administrator", show_default=True)
@_with_parts
def pack(
    parts: Parts,
    pdf: Path,
    first_on: str | None,
    last_on: str | None,
    areas: tuple[str, ...],
    samples: int,
    seed: str | None,
    then: bool,
    signatory: str,
) -> None:
    """Write the audit pack of a period as a PDF; it is kept as issued.

    It is made here and now. What was drawn before it was stopped is used when asked again.
    """
    from app.pack.ask import new_seed
    from app.pack.asked import Asked, usual_period
    from app.pack.command import area_ids, made_now
    from app.server import all_handlers

    now = parts.clock.now()
    with parts.database.read() as session:
        first, last = usual_period(local_date(now, site(session).tz))
        chosen = area_ids(session, areas)
    asked = Asked(
        first_on=_day(first_on, "--from") or first,
        last_on=_day(last_on, "--to") or last,
        areas=chosen,
        samples=samples,
        seed=seed or new_seed(),
        as_known_then=then,
        asked_at=now,
    )
    say = partial(click.echo, err=True)
    _write(pdf, made_now(parts, asked, all_handlers(parts), signatory=signatory, say=say))


def _day(written: str | None, option: str) -> date | None:
    try:
        return date.fromisoformat(written) if written else None
    except ValueError:
        raise click.BadParameter(
            f"{written!r} is not a day, such as 2026-11-25.", param_hint=option
        ) from None


def _write(path: Path, data: bytes) -> None:
    try:
        path.write_bytes(data)
    except OSError as error:
        raise Refused(f"{path} cannot be written: {error.strerror}.") from error


@commands.command(context_settings={"ignore_unknown_options": True, "help_option_names": []})
@click.argument("arguments", nargs=-1, type=click.UNPROCESSED)
def calc(arguments: tuple[str, ...]) -> None:
    """Calculate by a METHOD: `calc --list`, `calc METHOD name=value ...`.

    No database is needed. With --data, the site's own limits hold, and those that it chose.
    """
    from assessments.command import run

    kept, data = _without_data(list(arguments))
    status, out, err = run(kept, site=_site_limits(data) if data is not None else None)
    click.echo(out, nl=False)
    click.echo(err, nl=False, err=True)
    raise click.exceptions.Exit(status)


def _without_data(arguments: list[str]) -> tuple[list[str], Path | None]:
    """Take --data out of arguments that another parser reads."""
    kept, data = [], None
    rest = iter(arguments)
    for each in rest:
        if each == "--data":
            data = next(rest, "")
        elif each.startswith("--data="):
            data = each.removeprefix("--data=")
        else:
            kept.append(each)
    if data == "":
        raise click.UsageError("--data needs the folder of the data.")
    return kept, Path(data) if data else None


def _site_limits(data: Path) -> Limits:
    """Return the limits of the site whose data are in this folder; nothing is made or migrated."""
    from app.calculations.limits import limits_of_the_site

    _insist_on_register(data)
    with _parts(data).database.read() as session:
        return limits_of_the_site(session)


@commands.command()
@click.option("--dry-run", is_flag=True, help="Say what would go out and why; change nothing.")
@_with_parts
def remind(parts: Parts, dry_run: bool) -> None:
    """Remind people of what is due: now, and not when the day begins.

    The worker sends what this asks for, outside the quiet hours and each stage once.
    """
    from app.reminders.command import ask_now, dry_run_words

    click.echo(dry_run_words(parts) if dry_run else ask_now(parts))


def _insist_on_register(data: Path) -> None:
    if not os.environ.get("CHUCKKEY_DATABASE_URL") and not (data / "chuckkey.sqlite").is_file():
        raise Refused(f"There is no register in {data}.")


@commands.command()
@click.argument(
    "file", required=False, type=click.Path(path_type=Path, exists=True, dir_okay=False)
)
@click.option("--data", type=click.Path(path_type=Path), help="Folder of the data.")
@click.option(
    "--cert", type=EXISTING, help="Certificate of the site (PEM), where its data are not at hand."
)
@click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
def verify(file: Path | None, data: Path | None, cert: Path | None, as_json: bool) -> None:
    """Prove a signed FILE: whole, by whom, each part as its manifest says, the log behind it.

    Works offline and without a register; with --data the signer is held against the site's
    certificate and the manifest against the log. Without FILE: the chain of the log alone.

    Exit status 0: everything is proved; 1: something is wrong; 3: nothing is wrong, but something
    that it would be held against was not given.
    """
    from app.audit.log import broken_at

    if file is not None:
        raise click.exceptions.Exit(_prove(file, data, cert, as_json))
    parts = _parts(data)
    schema.prepare(parts.database, parts.settings)
    with parts.database.read() as session:
        broken = broken_at(session)
    if broken is not None:
        raise Refused(f"The log does not fit together from entry {broken} on.")
    click.echo("The log is whole.")


def _prove(file: Path, data: Path | None, cert: Path | None, as_json: bool) -> int:
    from app.signing.command import STATUS, asks, json_of, words_of
    from app.signing.keys import certificate_in, certificate_of_the_site
    from app.signing.prove import prove

    ask, certificate = None, certificate_in(cert) if cert is not None else None
    if data is not None:
        _insist_on_register(data)
        parts = _parts(data)
        ask = asks(parts.database)
        certificate = certificate or certificate_of_the_site(parts.settings)
    proof = prove(file, certificate=certificate, log=ask)
    click.echo(json_of(proof) if as_json else words_of(proof, file))
    return STATUS[proof.word]


@commands.group(cls=_Commands)
def keys() -> None:
    """The key that documents are signed with."""


@keys.command("init")
@click.option("--name", help="Of the workshop, in the certificate; else that of the site.")
@_with_parts
def keys_init(parts: Parts, name: str | None) -> None:
    """Make the key and its certificate.

    The site's own can be put in their place: keys/signing.p12, or keys/signing-key.pem and
    keys/signing-certificate.pem, in the folder of the data.
    """
    from app.signing.keys import make, places

    with parts.database.read() as session:
        called = name or site(session).name
    fingerprint = make(parts.settings, name=called, now=parts.clock.now())
    click.echo(f"Made {places(parts.settings).certificate}.")
    click.echo(f"SHA-256 of the certificate, to be given out with what is signed: {fingerprint}")


@commands.command()
@click.option(
    "--report/--remove",
    default=True,
    help="Say what is over (the default), or remove it: that cannot be taken back.",
)
@_with_parts
def retention(parts: Parts, report: bool) -> None:
    """Say how many rows are past the time for which they are kept, by table; or remove them.

    Whoever has the command on the server is not known to it: the log names nobody.
    """
    from app.retention.command import remove, report_lines

    for line in report_lines(parts) if report else remove(parts):
        click.echo(line)


# --- running -----------------------------------------------------------------------------


@commands.command()
@click.option("--data", type=click.Path(path_type=Path), help="Folder of the data.")
@click.option("--name", prompt="Your name", help="Of the first person, who administers.")
@click.option("--email", prompt="Your e-mail", help="Their login.")
@click.option(
    "--password",
    envvar="CHUCKKEY_PASSWORD",
    prompt=True,
    hide_input=True,
    confirmation_prompt=True,
    help="Better asked for, or in CHUCKKEY_PASSWORD.",
)
def init(data: Path | None, name: str, email: str, password: str) -> None:
    """Bring the database to this version's schema; on an empty one, make the first account.

    The first person administers and approves: they accept the outside competence of the first
    technicians and approve assessments written by others.
    """
    from app.people.register import add_person, grant
    from app.people.rights import Role

    parts = _parts(data)
    schema.migrate(parts.database, parts.settings)
    now = parts.clock.now()
    with parts.database.write() as session:
        if session.execute(select(Person.id).limit(1)).first() is not None:
            click.echo("The schema is in order; there are people already, nobody was added.")
            return
        person = add_person(
            session,
            name=name,
            email=email,
            card=None,
            starts_on=local_date(now, site(session).tz),
            ends_on=None,
            password=password,
            actor_id=None,
            now=now,
        )
        for role in (Role.ADMINISTRATOR, Role.APPROVER):
            grant(session, person_id=person.id, role=role, area_id=None, actor_id=None, now=now)
    click.echo(f"Ready. {name} may sign in as {email}.")


@commands.command()
@click.option("--host", default="127.0.0.1", show_default=True)
@click.option("--port", default=8000, show_default=True, type=click.IntRange(1, 65535))
@click.option("--workers", default=2, show_default=True, type=click.IntRange(1, 64))
@click.option(
    "--makers",
    default=2,
    show_default=True,
    type=click.IntRange(0, 64),
    help="Processes that make documents. With one, a label waits for whatever takes long.",
)
@_with_parts
def serve(parts: Parts, host: str, port: int, workers: int, makers: int) -> None:
    """Serve the pages, with processes beside them that make the documents."""
    from app.server import serve as run

    run(parts.settings, host=host, port=port, workers=workers, makers=makers)


@commands.command()
@_with_parts
def work(parts: Parts) -> None:
    """Do what was asked for: make the documents. `serve` starts some by itself."""
    from app.server import work as run

    run(parts)


@commands.command()
@click.option("--data", default=DEMO_DATA, type=click.Path(path_type=Path), show_default=True)
@click.option("--port", default=8000, show_default=True, type=click.IntRange(1, 65535))
@click.option("--fresh", is_flag=True, help="Throw the demo's data away and begin anew.")
def demo(data: Path, port: int, fresh: bool) -> None:
    """Serve an invented workshop on this machine, to try everything out."""
    from app.demo import prepare
    from app.server import serve as run

    parts = _parts(data, CHUCKKEY_PUBLIC_URL=f"http://127.0.0.1:{port}", CHUCKKEY_DATABASE_URL="")
    click.echo(prepare(parts, fresh=fresh))
    run(parts.settings, host="127.0.0.1", port=port, workers=2, makers=2)


if __name__ == "__main__":
    main()
