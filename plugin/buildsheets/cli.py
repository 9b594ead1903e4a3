"""The same work from a terminal; heavy imports stand inside the commands, so that `check` answers at once."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildsheets import __version__
from buildsheets.records.library import Build, load_build, load_library
from buildsheets.records.told import FORMATS, told

if TYPE_CHECKING:
    from buildsheets.settings import Settings

EXISTING = click.Path(exists=True, path_type=Path)
EXISTING_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="buildsheets")
def commands() -> None:
    """Build sheets for model locomotive conversions, from one record per locomotive.

    \b
    Begin a library:      buildsheets start our-library
    Begin a record:       buildsheets new builds/my-tank.yml --title "Branch tank" --scale OO
    See what is wrong:    buildsheets check builds
    See what changes:     buildsheets changes ../before/builds builds
    See the outcome:      buildsheets figures builds/my-tank.yml
    Help your editor:     buildsheets schema > builds/record.schema.json
    Leave the generator:  buildsheets pages out
    A PDF of each sheet:  buildsheets pdf site
    """


@commands.command()
@click.argument("paths", nargs=-1, type=EXISTING)
@click.option("--format", "form", type=click.Choice(FORMATS), default="plain", show_default=True,
              help="github: as notes beside the lines of a proposed change.")
def check(paths: tuple[Path, ...], form: str) -> None:
    """Name every problem of records, stock files and pictures as file:line:column: message.

    The exit code is 1 if there is any. Without PATHS the folder builds is checked.

    \b
    buildsheets check
    buildsheets check builds/my-tank.yml
    buildsheets check --format github
    """
    from buildsheets.checking import checked

    found, files = checked(paths or (_default_folder(),), from_top=form == "github")
    counted = f"{_count(len(found), 'problem')} in {_count(files, 'file' if paths else 'record')}"
    click.echo(told(found, form, counted), nl=False)
    sys.exit(1 if found else 0)


@commands.command()
@click.argument("file", type=EXISTING_FILE)
@click.option("--json", "as_json", is_flag=True, help="Everything a sheet shows, as JSON.")
@click.option("--run-length", default="1 m", show_default=True, help="Measured length of the speed card.")
def figures(file: Path, as_json: bool, run_length: str) -> None:
    """Work out one record: the outcome at a glance, or with --json all of it.

    \b
    buildsheets figures builds/my-tank.yml
    buildsheets figures builds/my-tank.yml --json > my-tank.json
    """
    from buildsheets.figures import measurable, to_json, work_out

    result = work_out(_build(file), _settings(run_length).for_figures())
    if as_json:
        click.echo(to_json(result), nl=False)
        return
    click.echo(result["title"])
    for line in result["glance"]:
        click.echo(f"{line['level']:8} {line['label']}: {line['value']}. {line['sentence']}")
    for missing in measurable(result):
        click.echo(f"measure  {missing['name']}: {missing['how_to_measure']}")


@commands.command()
@click.option("--stock", is_flag=True, help="The schema of stock files instead.")
def schema(stock: bool) -> None:
    """Print the JSON Schema that lets an editor complete and check a record.

    \b
    buildsheets schema > builds/record.schema.json
    """
    from buildsheets.records.schema import record_schema, stock_schema

    described = stock_schema() if stock else record_schema()
    click.echo(json.dumps(described, indent=2, ensure_ascii=False))


@commands.command()
@click.argument("file", required=False, type=click.Path(dir_okay=False, path_type=Path))
@click.option("--title", help="What the sheet is called.")
@click.option("--scale", help="A named scale, such as OO, H0 or N.")
@click.option("--status", help="How far it is.  [default: planned]")
@click.option("--type", "traction", help="What drives the prototype: steam, diesel, electric or railcar.")
@click.option("--class", "vehicle_class", help="Wheels or kind of the prototype, such as 0-6-0 tank.")
@click.option("--motor", help="Name of a motor of the stock.")
@click.option("--decoder", help="Name of a decoder of the stock.")
@click.option("--builds", type=click.Path(file_okay=False, path_type=Path), default="builds", show_default=True,
              help="The folder of the records, where FILE is not given.")
@click.option("--schema", "schema_path", default="record.schema.json", show_default=True,
              help="Where the editor finds the schema, relative to the record.")
@click.option("--no-questions", is_flag=True, help="Ask nothing, even on a terminal.")
def new(file: Path | None, builds: Path, schema_path: str, no_questions: bool, **given: str | None) -> None:
    """Write a record to fill in, with a comment on every line. An existing file is left alone.

    On a terminal it asks for what no option said. Without FILE the file is named after the title.

    \b
    buildsheets new
    buildsheets new builds/my-tank.yml --title "Branch tank" --scale OO
    buildsheets new --title "Branch tank" --scale OO --type steam --motor can-1220-5p
    """
    from buildsheets.start.asking import Questions, on_a_terminal
    from buildsheets.start.record import Given, new_record

    questions = Questions(asks=on_a_terminal() and not no_questions)
    path = new_record(file, builds, Given(**given), questions, schema_path)
    click.echo(f"{path} is ready to fill in; then: buildsheets check {path}")


@commands.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--club", help="Name of the club.")
@click.option("--currency", help="Three-letter code for records that name none.")
@click.option("--paper", help="A4 or Letter.  [default: A4]")
@click.option("--speed-unit", help="mph or km/h.  [default: mph]")
@click.option("--program", "line", help="What requirements.txt says to install.  [default: what this was installed from]")
@click.option("--no-questions", is_flag=True, help="Ask nothing, even on a terminal.")
def start(folder: Path, line: str | None, no_questions: bool, **given: str | None) -> None:
    """Lay down a new club's library in DIR: settings, an example, shared parts, checks and publishing.

    On a terminal it asks for what no option said. A folder that is not empty is left alone.

    \b
    buildsheets start our-library
    buildsheets start our-library --club "Our club" --currency EUR --speed-unit km/h
    """
    from buildsheets.start import club as starting
    from buildsheets.start.asking import Questions, on_a_terminal
    from buildsheets.start.program import WHEELS, Program, installed_program

    starting.refuse_used(folder)
    club = starting.asked_club(**given, questions=Questions(asks=on_a_terminal() and not no_questions))
    program = Program(line) if line else installed_program()
    starting.lay_down(folder, club, program)
    if program.lacks:
        click.echo(f"Put {program.lacks} into {folder / WHEELS}; your host and other members install the program from there.")
    click.echo(f"{folder} is ready. In it: buildsheets new, buildsheets check, mkdocs serve; README.md tells members how.")


@commands.command()
@click.argument("folder", metavar="DIR", type=click.Path(file_okay=False, path_type=Path))
@click.option("--builds", type=click.Path(exists=True, file_okay=False, path_type=Path), default="builds",
              show_default=True, help="The folder of the records.")
@click.option("--run-length", default="1 m", show_default=True, help="Measured length of the speed card.")
@click.option("--currency", help="Three-letter code for records that name none.")
def pages(folder: Path, builds: Path, run_length: str, currency: str | None) -> None:
    """Write every sheet into DIR as plain Markdown, SVG, CSV and JSON, for any site generator.

    Problems are named; all other sheets are written, and the exit code is 1.

    \b
    buildsheets pages docs/builds
    """
    from buildsheets.pages import write_pages

    library = load_library(builds)
    written = write_pages(library, _settings(run_length, currency), folder)
    for problem in library.problems:
        click.echo(str(problem), err=True)
    click.echo(f"{_count(len(written), 'file')} written into {folder}")
    sys.exit(1 if library.problems else 0)


@commands.command()
@click.argument("old", type=EXISTING)
@click.argument("new", type=EXISTING)
@click.option("--format", "form", type=click.Choice(["plain", "markdown", "json"]), default="plain", show_default=True,
              help="markdown: as a table for a page of the host.")
@click.option("--speed-unit", type=click.Choice(["mph", "km/h"]), default="mph", show_default=True, help="Unit of speeds.")
def changes(old: Path, new: Path, form: str, speed_unit: str) -> None:
    """List new, changed and removed sheets, and how their figures moved.

    OLD and NEW are folders of records, built sites, or their library.json. Between two folders of records only what
    differs is worked out, and a change that moves no figure is told too.

    \b
    buildsheets changes ../library-before/builds builds
    buildsheets changes old-site site --format markdown
    """
    from buildsheets.library import changes as comparing

    try:
        found = comparing.changes(old, new)
    except comparing.SourceError as problem:
        raise click.ClickException(str(problem)) from None
    click.echo(comparing.told_changes(found, form, speed_unit), nl=False)


@commands.command()
@click.argument("site", metavar="SITE", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option("--paper", type=click.Choice(["A4", "Letter"], case_sensitive=False), default="A4", show_default=True,
              help="Size of the paper.")
def pdf(site: Path, paper: str) -> None:
    """Print every sheet of a built site into a PDF beside its page, with the Chromium of this machine.

    \b
    mkdocs build
    buildsheets pdf site
    buildsheets pdf site --paper Letter
    """
    from buildsheets import pdf as printing

    lacks = printing.what_lacks()
    if lacks is not None:
        raise click.ClickException(f"no PDF can be made: {lacks}")
    jobs = printing.jobs_of(site)
    problems = printing.print_jobs(jobs, paper)
    for problem in problems:
        click.echo(problem, err=True)
    click.echo(f"{_count(len(jobs) - len(problems), 'PDF')} written into {site}")
    sys.exit(1 if problems else 0)


def main() -> None:
    """Run the command line; a file that cannot be read or written is one line, not a traceback."""
    try:
        commands()
    except OSError as problem:
        sys.exit(f"buildsheets: {problem}")


def _settings(run_length: str, currency: str | None = None) -> Settings:
    from buildsheets import settings
    from buildsheets.records.quantities import QuantityError

    try:
        return settings.Settings(settings.run_length(run_length), currency)
    except QuantityError as problem:
        raise click.BadParameter(str(problem), param_hint="--run-length") from None


def _build(file: Path) -> Build:
    """Return the record of one file, or end with its problems."""
    build, problems = load_build(file)
    if build is None:
        raise click.ClickException("\n".join(map(str, problems)))
    return build


def _default_folder() -> Path:
    folder = Path("builds")
    if not folder.is_dir():
        raise click.UsageError("there is no folder builds here; name a folder or a file")
    return folder


def _count(number: int, noun: str) -> str:
    return f"{number or 'no'} {noun}{'' if number == 1 else 's'}"
