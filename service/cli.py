"""The commands of the service."""

import json
from contextlib import AbstractContextManager, closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated
from uuid import UUID
from zoneinfo import available_timezones

import typer
from sqlmodel import Session

from service.app import create_app
from service.audit import export
from service.audit import store as trail
from service.checks import command
from service.core.roles import Role
from service.database.engine import open_engine
from service.database.migrating import require_schema
from service.keeping import backups, verifying
from service.members import store, tokens
from service.serving import bring_up_to_date, commands, fail
from service.settings import Settings
from service.transfers import commands as transfers

UNSOUND = 2

main = commands  # beside the one that serves
main.add_typer(transfers.taking_in, name="import")
main.command("export")(transfers.write_out)


@main.command("migrate")
def migrate_database(
    revision: Annotated[str, typer.Argument(help="The revision to go to; `base` takes everything away.")] = "head",
) -> None:
    """Bring the database the settings name to a revision, by default the newest."""
    bring_up_to_date(Settings(), revision)


@main.command("kitchen-create")
def kitchen_create(
    name: Annotated[str, typer.Argument(help="What the kitchen is called.")],
    altitude_ft: Annotated[int, typer.Option(help="Feet above sea level.", min=-1500, max=15000)],
    time_zone: Annotated[str, typer.Option(help="A name of the IANA time zone database.")],
    coordinator: Annotated[str, typer.Option(help="The name of its first coordinator.")],
) -> None:
    """Open a kitchen with its first coordinator, and print that coordinator's token: it is shown this once."""
    if time_zone not in available_timezones():
        raise typer.BadParameter("The time zone database has no zone of that name.", param_hint="--time-zone")
    settings = Settings()
    bring_up_to_date(settings)
    with closing(open_engine(settings.database_url)) as database, Session(database.writer) as session:
        kitchen = store.add_kitchen(session, name, altitude_ft, time_zone)
        member = store.add_member(session, kitchen.id, coordinator, Role.COORDINATOR)
        now = datetime.now(UTC).replace(microsecond=0)
        _, shown = tokens.make(session, member.id, now)
        trail.note(session, kitchen.id, None, "kitchen-create", "/v1/kitchen", None, now)
        session.commit()
    typer.echo(shown)


@main.command("token-create")
def token_create(
    member_id: Annotated[UUID | None, typer.Argument(help="Whose; without it coordinators are listed.")] = None,
) -> None:
    """Print a new token for a coordinator who lost theirs: it is shown this once, and the old ones stay as they are."""
    with closing(open_engine(Settings().database_url)) as database, Session(database.writer) as session:
        require_schema(session.connection())
        known = {member.id: (member, kitchen) for member, kitchen in store.coordinators(session)}
        if member_id is None:
            for member, kitchen in known.values():
                typer.echo(f"{member.id}  {kitchen.name}: {member.name}")
            return
        if member_id not in known:
            raise typer.BadParameter("No coordinator has this id.", param_hint="MEMBER_ID")
        _, kitchen = known[member_id]
        store.lock_kitchen(session.connection(), kitchen.id)
        now = datetime.now(UTC).replace(microsecond=0)
        _, shown = tokens.make(session, member_id, now)
        trail.note(session, kitchen.id, None, "token-create", f"/v1/members/{member_id}/tokens", None, now)
        session.commit()
    typer.echo(shown)


@main.command("backup")
def backup(file: Annotated[Path, typer.Argument(help="The new file to write.")]) -> None:
    """Back everything up into one file while the service goes on: exit status 0 done, 1 not done."""
    try:
        with _going_on("Backing up"):
            size = backups.back_up(Settings().database_url, file)
    except backups.BackupError as refused:
        fail(str(refused))
    typer.echo(f"{file}: {size:,} bytes.")


@main.command("restore")
def restore(
    file: Annotated[Path, typer.Argument(help="What `backup` wrote.")],
    replace: Annotated[bool, typer.Option("--replace", help="Set aside what the database holds.")] = False,
) -> None:
    """Put a backup back, with the service stopped, and look it over: exit status 0 sound, 1 not done, 2 unsound."""
    url = Settings().database_url
    try:
        with _going_on("Restoring"):
            aside = backups.restore(url, file, replace=replace)
    except backups.BackupError as refused:
        fail(str(refused))
    if aside:
        typer.echo(f"What was there is kept as {aside}.")
    typer.echo("Restored.")
    verify()


@main.command("verify")
def verify() -> None:
    """Look the whole database over: exit status 0 sound, 2 something is wrong, 1 it couldn't be looked at."""
    with closing(open_engine(Settings().database_url)) as database, _going_on("Looking everything over"):
        found = list(verifying.verify(database))
    for each in found:
        typer.echo(f"{each.at}: {each.count:,} looked at, {len(each.wrong) or 'nothing'} wrong")
        for line in each.wrong:
            typer.echo(f"  {line}")
    if any(each.wrong for each in found):
        raise typer.Exit(UNSOUND)


@main.command("audit")
def audit(
    kitchen_id: Annotated[UUID, typer.Argument(help="The kitchen's id.", metavar="KITCHEN")],
    form: Annotated[export.Format, typer.Option("--format", help="How to write it.")] = export.Format.JSON_LINES,
) -> None:
    """Print who did what in a kitchen, from the first entry on; names and words of members aren't in it."""
    with closing(open_engine(Settings().database_url)) as database, Session(database.reader) as session:
        require_schema(session.connection())
        for line in export.lines(session, kitchen_id, form):
            typer.echo(line, nl=False)


@main.command("demo")
def demo(
    port: Annotated[int, typer.Option(help="The port to serve on.", min=1, max=65535)] = 8000,
    database: Annotated[Path, typer.Option(help="The demo's SQLite file.")] = Path("canning-demo.db"),
    tokens_file: Annotated[Path, typer.Option("--tokens", help="Where to write everyone's tokens.")] = Path(
        "canning-demo-tokens.json"
    ),
    tour: Annotated[bool, typer.Option("--tour/--no-tour", help="Show the main job first.")] = True,
    leave: Annotated[bool, typer.Option("--exit", help="Stop after the tour.")] = False,
) -> None:
    """Fill an invented kitchen, show the main job in real calls, and serve it until stopped."""
    from service.demo import serving  # and the client of its tour, for which no other command should wait

    try:
        serving.run(port, database, tokens_file, show_tour=tour, stay=not leave)
    except serving.NoDemoError as refused:
        fail(str(refused))


@main.command("check")
def check(
    file: Annotated[Path, typer.Argument(help="A recipe in YAML or JSON, as the API takes it.")],
    altitude_ft: Annotated[int | None, typer.Option(help="Feet above sea level.", min=-1_400, max=29_100)] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the answer of the API instead.")] = False,
) -> None:
    """Check a recipe file: exit status 0 ready, 1 revise, 2 untested or unsafe, 3 unreadable."""
    try:
        text, status = command.check_file(file, altitude_ft, as_json=as_json)
    except command.UnreadableError as unreadable:
        typer.echo(str(unreadable), err=True)
        raise typer.Exit(command.UNREADABLE) from None
    typer.echo(text, nl=False)
    raise typer.Exit(status)


@main.command("openapi")
def openapi(
    to: Annotated[Path, typer.Option(help="The file to write.")] = Path("openapi/openapi.json"),
) -> None:
    """Write the contract of the service into a file."""
    to.parent.mkdir(parents=True, exist_ok=True)
    to.write_text(written_contract(), encoding="utf-8")


def written_contract() -> str:
    """The contract as the text that is committed and compared."""
    document = create_app(Settings(database_url="sqlite:///contract.db")).openapi()
    return json.dumps(document, indent=2, ensure_ascii=False) + "\n"


def _going_on(doing: str) -> AbstractContextManager[object]:
    """Say what goes on as long as it does, where somebody looks on; no database tells how far it has got."""
    from rich.console import Console  # only here: other commands needn't wait for it

    return Console(stderr=True).status(doing)
