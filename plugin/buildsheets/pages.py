"""The pages of a library, put together without any site generator: both entry points publish these."""

from __future__ import annotations

import html
import traceback
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from buildsheets import __version__
from buildsheets.figures.ways.options import WaysOptions
from buildsheets.library.feed import Place, atom_feed
from buildsheets.library.index import render_index
from buildsheets.library.pairs import pairs
from buildsheets.library.render import render_pairs, render_part, render_parts
from buildsheets.library.rows import library_csv, library_json, library_row
from buildsheets.library.shopping import shopping_csv, shopping_list
from buildsheets.library.used import StockPage, stock_pages
from buildsheets.pictures import PictureError, published_picture
from buildsheets.records.library import BrokenBuild, Build, LibraryRecords
from buildsheets.records.problems import Mark, Problem, problem_at
from buildsheets.records.quantities import parse_quantity
from buildsheets.records.units import LENGTH
from buildsheets.sheet import (
    BODY_MARKER,
    SheetOptions,
    ShownPicture,
    data_files,
    draw,
    render_broken,
    render_prose,
    render_sheet,
    render_short,
)
from buildsheets.sheet.prose import plain

if TYPE_CHECKING:
    from buildsheets.figures import FiguresOptions
    from buildsheets.figures.format import Figures

STYLE = "assets/buildsheets/sheet.css"
SCRIPT = "assets/buildsheets/sheet.js"
LIBRARY_STYLE = "assets/buildsheets/library.css"
LIBRARY_SCRIPT = "assets/buildsheets/library.js"
SHORT = "short.html"
THEME = Path(__file__).parent / "sheet" / "theme"


@dataclass(frozen=True)
class Settings:
    """What a club chooses for its whole library."""

    run_length_m: float = 1.0
    currency: str | None = None
    sheet: SheetOptions = field(default_factory=SheetOptions)
    ways: WaysOptions = field(default_factory=WaysOptions)

    def for_figures(self) -> FiguresOptions:
        """Return the options of the calculation."""
        from buildsheets.figures import FiguresOptions

        return FiguresOptions(run_length_m=self.run_length_m, currency=self.currency, ways=self.ways)


@dataclass(frozen=True)
class SheetPage:
    """One sheet: words for Markdown and search, a body that is made late, and data files beside the page."""

    slug: str
    title: str
    description: str
    source: Path
    markdown: str
    make_body: Callable[[], str]
    figures: Figures | None = None  # None for a record that cannot be read
    files: dict[str, bytes] = field(default_factory=dict)  # published beside the page
    formerly: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    faults: list[Problem] = field(default_factory=list)  # found while publishing, so whoever publishes must say them
    make_short: Callable[[str], str] | None = None  # whole page, from the address of the style sheet


@dataclass(frozen=True)
class ClubPage:
    """A page that spans builds, in a folder of its own beside the index."""

    folder: str  # such as "parts/can-1220-5p"
    title: str
    make_body: Callable[[str], str]  # from the address of a sheet, "{slug}" standing for the record's name

    @property
    def markdown(self) -> str:
        """Return the words for Markdown and search; the body is put in late."""
        return f"# {plain(self.title)}\n\n{BODY_MARKER}\n"


@dataclass
class _Kept:
    """One sheet's finished work. The body is packed: a hundred of them would otherwise hold 25 MB."""

    key: str
    figures: Figures
    files: dict[str, bytes]
    pictures: dict[str, ShownPicture]
    body: bytes


class Workbook:
    """Finished work by content, so that a change to one record costs one calculation and one set of drawings."""

    def __init__(self) -> None:
        self._kept: dict[str, _Kept] = {}

    def open(self, build: Build, settings: Settings) -> tuple[Figures, dict[str, bytes]]:
        """Return figures, and data files and pictures, of a build, made at most once for the same content.

        Parameters
        ----------
        build : Build
            A valid record.
        settings : Settings
            The club's choices.
        """
        from buildsheets.figures import to_json, work_out

        key = f"{build.revision_hash(__version__)} {settings} {_picture_stamps(build)}"
        kept = self._kept.get(build.slug)
        if kept is None or kept.key != key:
            figures = work_out(build, settings.for_figures())
            shown, pictures = _pictures(build)
            gallery = draw(figures, settings.sheet.speed_unit)
            files = {"figures.json": to_json(figures).encode("utf-8"), **data_files(figures, gallery), **pictures}
            if figures["parts"]:
                files["shopping.csv"] = shopping_csv(shopping_list([figures]), figures["cost"]["currency"])
            body = zlib.compress(render_sheet(figures, settings.sheet, shown, gallery).encode("utf-8"), 1)
            kept = self._kept[build.slug] = _Kept(key, figures, files, shown, body)
        return kept.figures, kept.files

    def body(self, slug: str) -> str:
        """Return the HTML body of a sheet that was opened before.

        Parameters
        ----------
        slug : str
            Name of the record.
        """
        return zlib.decompress(self._kept[slug].body).decode("utf-8")

    def unshown(self, build: Build) -> list[Problem]:
        """Return what is wrong with the pictures of a build that was opened before.

        Parameters
        ----------
        build : Build
            A valid record.
        """
        pictures = self._kept[build.slug].pictures
        files = [picture.file for picture in build.record.pictures]
        return [
            problem_at(build.mark("pictures", files.index(file), "file"), shown.problem)
            for file, shown in pictures.items()
            if shown.problem
        ]


def _pictures(build: Build) -> tuple[dict[str, ShownPicture], dict[str, bytes]]:
    """Make a record's pictures fit to publish: how each is shown, and the files."""
    shown, files = {}, {}
    for file in dict.fromkeys(picture.file for picture in build.record.pictures):
        try:
            picture = published_picture(build.path.parent, file)
        except PictureError as problem:
            shown[file] = ShownPicture(problem=str(problem))
        else:
            shown[file], files[file] = ShownPicture(picture.width, picture.height), picture.data
    return shown, files


def _picture_stamps(build: Build) -> list[tuple[int, int] | None]:
    """Return what changes when a picture is replaced by another of the same name."""
    paths = [build.path.parent / picture.file for picture in build.record.pictures]
    return [(path.stat().st_mtime_ns, path.stat().st_size) if path.is_file() else None for path in paths]


def run_length(written: str | float) -> float:
    """Return the length of the speed card's run [m].

    Parameters
    ----------
    written : str or float
        Text with a unit such as ``36 in``, or a number [m].

    Raises
    ------
    buildsheets.records.quantities.QuantityError
        If it is not a length.
    """
    return parse_quantity(written if isinstance(written, str) else f"{written} m", LENGTH).value


def sheet_pages(library: LibraryRecords, settings: Settings, workbook: Workbook) -> list[SheetPage]:
    """Return a page for every record, broken ones too, in the order of their slugs.

    Parameters
    ----------
    library : LibraryRecords
        All records of the folder.
    settings : Settings
        The club's choices.
    workbook : Workbook
        Keeps what has been worked out before.
    """
    pages = [_sheet(build, settings, workbook) for build in library.builds]
    pages += [_broken(build) for build in library.broken.values()]
    return sorted(pages, key=lambda page: page.slug)


def index_markdown() -> str:
    """Return the words of the library's index; its table is put in late."""
    return f"# The library\n\n{BODY_MARKER}\n"


def forwarding_page(title: str, address: str) -> str:
    """Return a whole HTML page that leads from an old address to the new one, without a script.

    Parameters
    ----------
    title : str
        Title of the sheet that moved.
    address : str
        Where it is now, relative to the old page.
    """
    title, address = html.escape(title), html.escape(address)
    return (
        f'<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>{title}</title>\n'
        f'<meta http-equiv="refresh" content="0; url={address}">\n<link rel="canonical" href="{address}">\n'
        f'</head>\n<body>\n<p>This sheet has moved: <a href="{address}">{title}</a></p>\n</body>\n</html>\n'
    )


def write_pages(library: LibraryRecords, settings: Settings, folder: Path) -> list[Path]:
    """Write every page as plain Markdown with its drawings and data beside it; return the paths written.

    Parameters
    ----------
    library : LibraryRecords
        All records; a sheet that could not be worked out is added to its problems.
    settings : Settings
        The club's choices.
    folder : Path
        Where to; made if absent. Files of the same name are replaced.
    """
    pages = sheet_pages(library, settings, Workbook())
    library.problems += [fault for page in pages for fault in page.faults]
    table = index_body(pages, settings, "{slug}/")
    written = [_write(folder / "index.md", _plain(index_markdown(), table, ""))]
    for page in pages:
        home = folder / page.slug
        written.append(_write(home / "index.md", _plain(page.markdown, page.make_body(), "../")))
        written += [_write(home / name, data) for name, data in page.files.items()]
        if page.make_short is not None:
            written.append(_write(home / SHORT, page.make_short(f"../{STYLE}")))
        moved = forwarding_page(page.title, f"../{page.slug}/index.html").encode("utf-8")
        written += [_write(folder / old / "index.html", moved) for old in page.formerly]
    for club_page in club_pages(library, pages, settings):
        up = "../" * (club_page.folder.count("/") + 1)
        body = club_page.make_body(up + "{slug}/")
        written.append(_write(folder / club_page.folder / "index.md", _plain(club_page.markdown, body, up)))
    written += [_write(folder / name, data) for name, data in library_files(pages, settings).items()]
    return [*written, *(_write(folder / style, (THEME / style).read_bytes()) for style in (STYLE, LIBRARY_STYLE))]


def club_pages(library: LibraryRecords, pages: Iterable[SheetPage], settings: Settings) -> list[ClubPage]:
    """Return the pages that span builds: all stock parts, each of them, and which locomotives run together.

    Parameters
    ----------
    library : LibraryRecords
        All records and the stock.
    pages : iterable of SheetPage
        The sheets; those whose record cannot be read are left out.
    settings : Settings
        The club's choices.
    """
    figures = {page.slug: page.figures for page in pages if page.figures is not None}
    stock = stock_pages(library.shelf, library.builds, figures)
    return [
        ClubPage("parts", "The parts", lambda href: render_parts(stock, "index.html" if href.endswith(".html") else "")),
        *(_part_page(part, settings) for part in stock),
        ClubPage(
            "together", "Running together", lambda href: render_pairs(pairs(list(figures.values())), figures, href)
        ),
    ]


def _part_page(part: StockPage, settings: Settings) -> ClubPage:
    return ClubPage(
        f"parts/{part.name}", part.title, lambda href: render_part(part, href, settings.sheet.speed_unit)
    )


STILL_TO_BUY = ("planned", "on the bench")
"""Status of builds whose parts the club's shopping list sums up."""


def library_files(pages: Iterable[SheetPage], settings: Settings) -> dict[str, bytes]:
    """Return the data of the whole library, to be published beside its list; a feed where the site has an address.

    Parameters
    ----------
    pages : iterable of SheetPage
        All of them; those whose record cannot be read are left out.
    settings : Settings
        The club's choices.
    """
    every = [page.figures for page in pages if page.figures is not None]
    rows = [library_row(figures) for figures in every]
    wanted = shopping_list([figures for figures in every if figures["head"]["status"] in STILL_TO_BUY])
    files = {
        "library.json": library_json(rows),
        "library.csv": library_csv(rows),
        "shopping.csv": shopping_csv(wanted, settings.currency),
    }
    home, name, rest = settings.sheet.address.partition("{slug}")
    if name:
        files["feed.xml"] = atom_feed(every, Place(home, name + rest, settings.sheet.club or "The library"))
    return files


def index_body(pages: Iterable[SheetPage], settings: Settings, href: str, data_path: str = "") -> str:
    """Return the HTML list of all sheets.

    Parameters
    ----------
    pages : iterable of SheetPage
        All of them.
    settings : Settings
        The club's choices.
    href : str
        Address of a sheet as seen from the list, ``{slug}`` standing for the record's name.
    data_path : str
        Address of the folder of the library's data files as seen from the list, ending in a slash or empty.
    """
    every = list(pages)
    good = [page.figures for page in every if page.figures is not None]
    broken = [(page.slug, page.title, page.problems) for page in every if page.figures is None]
    return render_index(good, broken, settings.sheet.speed_unit, href, data_path, feed=bool(settings.sheet.address))


def _sheet(build: Build, settings: Settings, workbook: Workbook) -> SheetPage:
    try:
        figures, files = workbook.open(build, settings)
    except Exception as error:  # whatever it is, it must not take the other sheets with it
        failure = _failure(build, error)
        page = _broken(BrokenBuild(build.slug, build.path, build.record.title, [failure]))
        return replace(page, faults=[failure], formerly=build.record.formerly)
    return SheetPage(
        slug=build.slug,
        title=figures["title"],
        description=figures["head"]["summary"] or figures["title"],
        source=build.path,
        markdown=render_prose(figures),
        make_body=lambda: workbook.body(build.slug),
        figures=figures,
        faults=workbook.unshown(build),
        files=files,
        formerly=figures["head"]["formerly"],
        make_short=lambda style: render_short(figures, settings.sheet, style),
    )


def _failure(build: Build, error: Exception) -> Problem:
    """Name the record, the kind of error and the place where it came up; the last is for whoever mends it."""
    last = traceback.extract_tb(error.__traceback__)[-1]
    place = f"{Path(last.filename).name}:{last.lineno}"
    return problem_at(
        Mark(build.origin.file, 1, 1),
        f"the calculation broke off with {type(error).__name__} ({error}) at {place}; this is a fault of the program, send the "
        "record to those who keep it",
    )


def _broken(build: BrokenBuild) -> SheetPage:
    title = build.title or build.slug
    return SheetPage(
        slug=build.slug,
        title=title,
        description="This record has a problem.",
        source=build.path,
        markdown=f"# {plain(title)}\n\n{BODY_MARKER}\n",
        make_body=lambda: render_broken(build.slug, title, build.problems),
        problems=build.problems,
    )


def _plain(markdown: str, body: str, up: str) -> str:
    """Markdown with the body in place, without empty lines: CommonMark ends a block of HTML at the first."""
    dense = "\n".join(line for line in body.splitlines() if line.strip())
    styles = "\n".join(f'<link rel="stylesheet" href="{up}{style}">' for style in (STYLE, LIBRARY_STYLE))
    return markdown.replace(BODY_MARKER, f"<div>\n{styles}\n{dense}\n</div>")


def _write(path: Path, content: str | bytes) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
    return path
