"""The commands that take in and write out what a kitchen has."""

import json
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, NoReturn

import typer
from sqlmodel import Session, col, select

from service.audit import store as trail
from service.database.engine import Database, open_engine
from service.database.migrating import require_head
from service.members import store as members
from service.members.tables import Kitchen, Member
from service.settings import Settings
from service.transfers import exporting, importing, reading
from service.transfers.reading import Cell, Sent

taking_in = typer.Typer(
    no_args_is_help=True, help="Take in equipment, members or recipes from a file, all rows or none."
)

File = Annotated[Path, typer.Argument(help="A CSV file with a first line of column names, or a YAML list.")]
KitchenName = Annotated[str | None, typer.Option("--kitchen", help="Which kitchen, where there is more than one.")]
DryRun = Annotated[bool, typer.Option("--dry-run", help="Say what would happen, and change nothing.")]
Take = Callable[[Session, Kitchen, list[Sent], datetime], importing.Taken]


@taking_in.command("equipment")
def take_equipment(file: File, kitchen: KitchenName = None, dry_run: DryRun = False) -> None:
    """Enter burners, canners, tables and racks; those that are there already stay as they are."""

    def take(session: Session, row: Kitchen, sent: list[Sent], now: datetime) -> importing.Taken:
        return importing.take_equipment(session, row, sent, now, _watched)

    _take(file, importing.EQUIPMENT_CELLS, kitchen, take, "import-equipment", dry_run)


@taking_in.command("members")
def take_members(
    file: File,
    tokens: Annotated[Path, typer.Option(help="A new file for the new members' tokens, shown this once.")],
    kitchen: KitchenName = None,
    dry_run: DryRun = False,
) -> None:
    """Take people into the kitchen; those who are members already stay as they are."""
    if tokens.exists():
        _fail(f"{tokens} is there already; name a new file for the tokens.")

    def take(session: Session, row: Kitchen, sent: list[Sent], now: datetime) -> importing.Taken:
        taken = importing.take_members(session, row, sent, now, _watched)
        if taken.tokens and not taken.faults and not dry_run:
            tokens.touch(mode=0o600, exist_ok=False)  # before the members are kept: without it nobody could sign in
            tokens.write_text(json.dumps(taken.tokens, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
        return taken

    _take(file, importing.MEMBER_CELLS, kitchen, take, "import-members", dry_run)


@taking_in.command("recipes")
def take_recipes(
    file: File,
    member: Annotated[str, typer.Option(help="The name of the member whose recipes they become.")],
    kitchen: KitchenName = None,
    dry_run: DryRun = False,
) -> None:
    """Keep recipes as a member's, each checked at the kitchen's altitude; a changed one becomes a revision."""

    def take(session: Session, row: Kitchen, sent: list[Sent], now: datetime) -> importing.Taken:
        query = select(Member).where(Member.kitchen_id == row.id, Member.name == member, col(Member.left_at).is_(None))
        found = session.exec(query).all()
        if len(found) != 1:
            _fail(f"{len(found) or 'No'} members of this kitchen have that name.")
        return importing.take_recipes(session, row, found[0], sent, now, _watched)

    _take(file, importing.RECIPE_CELLS, kitchen, take, "import-recipes", dry_run)


def write_out(
    folder: Annotated[Path, typer.Argument(help="The folder to write into; files of the same names are replaced.")],
    kitchen: KitchenName = None,
) -> None:
    """Write equipment, members and recipes into YAML files that `import` takes in again."""
    with _opened() as database, Session(database.reader) as session:
        for name, count in exporting.write(session, _kitchen(session, kitchen), folder).items():
            typer.echo(f"{folder / name}.yaml: {count:,}")


def _take(file: Path, cells: dict[str, Cell], kitchen: str | None, take: Take, act: str, dry_run: bool) -> None:
    try:
        sent = reading.rows(file, cells)
    except reading.UnreadableError as unreadable:
        _fail(str(unreadable))
    now = datetime.now(UTC).replace(microsecond=0)
    with _opened() as database, Session(database.writer, expire_on_commit=False) as session:
        row = _kitchen(session, kitchen)
        members.lock_kitchen(session.connection(), row.id)
        taken = take(session, row, sent, now)
        for line in (*taken.faults, *taken.notes):
            typer.echo(line, err=bool(taken.faults))
        if taken.faults:
            _fail(f"Nothing was taken in: {len(taken.faults)} of {len(sent)} rows are wrong.")
        if taken.added or taken.revised:
            trail.note(session, row.id, None, act, f"{taken.added} added, {taken.revised} revised", None, now)
        if not dry_run:
            session.commit()
    revised = f", {taken.revised} revised" if taken.revised else ""
    typer.echo(f"{'Would be ' if dry_run else ''}{taken.added} added{revised}, {taken.unchanged} unchanged.")


def _watched(sent: Iterable[Sent]) -> Iterable[Sent]:
    """Show how far it has got, where somebody looks on."""
    from rich.console import Console  # only here: other commands needn't wait for it
    from rich.progress import track

    console = Console(stderr=True)
    return track(list(sent), "Rows", console=console, transient=True, disable=not console.is_terminal)


@contextmanager
def _opened() -> Iterator[Database]:
    with closing(open_engine(Settings().database_url)) as database:
        require_head(database)
        yield database


def _kitchen(session: Session, name: str | None) -> Kitchen:
    query = select(Kitchen) if name is None else select(Kitchen).where(Kitchen.name == name)
    found = session.exec(query.order_by(col(Kitchen.name)).limit(2)).all()
    if len(found) != 1:
        _fail("There is no such kitchen." if not found else "There is more than one; name it with --kitchen.")
    return found[0]


def _fail(why: str) -> NoReturn:
    typer.echo(why, err=True)
    raise typer.Exit(1)
