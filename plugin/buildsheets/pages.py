"""The pages of a library, put together without any site generator: both entry points publish these."""

from __future__ import annotations

import html
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from buildsheets import __version__
from buildsheets.records.library import Build, LibraryRecords
from buildsheets.records.problems import Problem
from buildsheets.records.quantities import parse_quantity
from buildsheets.records.units import LENGTH

if TYPE_CHECKING:
    from buildsheets.figures import FiguresOptions
    from buildsheets.figures.format import Figures

SHEET_BODY = "<!--sheet-body-->"
STYLE = "assets/buildsheets/sheet.css"
SCRIPT = "assets/buildsheets/sheet.js"
THEME = Path(__file__).parent / "sheet" / "theme"


@dataclass(frozen=True)
class Settings:
    """What a club chooses for its whole library."""

    run_length_m: float = 1.0
    currency: str | None = None

    def for_figures(self) -> FiguresOptions:
        """Return the options of the calculation."""
        from buildsheets.figures import FiguresOptions

        return FiguresOptions(run_length_m=self.run_length_m, currency=self.currency)


@dataclass(frozen=True)
class SheetPage:
    """One sheet: words for Markdown and search, a body that is made late, and data files beside the page."""

    slug: str
    title: str
    description: str
    source: Path
    markdown: str
    make_body: Callable[[], str]
    figures: Figures | None  # None for a record that cannot be read
    formerly: list[str] = field(default_factory=list)

    def files(self) -> dict[str, bytes]:
        """Return the data that is published beside the page, by file name."""
        from buildsheets.sheet import data_files

        return {} if self.figures is None else data_files(self.figures)


class Workbook:
    """Figures and finished bodies by content, so that a change to one record costs one calculation.

    Bodies are kept packed: a hundred of them would otherwise hold 25 MB while a site is served.
    """

    def __init__(self, keep_bodies: bool) -> None:
        self._keep_bodies = keep_bodies
        self._figures: dict[str, Figures] = {}
        self._bodies: dict[str, bytes] = {}

    def figures(self, build: Build, settings: Settings) -> Figures:
        """Return the figures of a build, worked out at most once for the same content.

        Parameters
        ----------
        build : Build
            A valid record.
        settings : Settings
            The club's choices.
        """
        from buildsheets.figures import work_out

        key = f"{build.slug} {build.revision_hash(__version__)} {settings}"
        if key not in self._figures:
            self._drop(build.slug)
            self._figures[key] = work_out(build, settings.for_figures())
        return self._figures[key]

    def body(self, figures: Figures) -> str:
        """Return the HTML body of a sheet.

        Parameters
        ----------
        figures : Figures
            What `figures` returned.
        """
        from buildsheets.sheet import SheetOptions, render_sheet

        key = next((key for key, kept in self._figures.items() if kept is figures), "")
        if key in self._bodies:
            return zlib.decompress(self._bodies[key]).decode("utf-8")
        body = render_sheet(figures, SheetOptions())
        if key and self._keep_bodies:
            self._bodies[key] = zlib.compress(body.encode("utf-8"), 1)
        return body

    def _drop(self, slug: str) -> None:
        for key in [key for key in self._figures if key.startswith(f"{slug} ")]:
            self._figures.pop(key)
            self._bodies.pop(key, None)


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
    pages += [_broken(slug, problems) for slug, problems in library.broken.items()]
    return sorted(pages, key=lambda page: page.slug)


def index_markdown() -> str:
    """Return the words of the library's index; its table is put in late."""
    return f"# The library\n\n{SHEET_BODY}\n"


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
        All records.
    settings : Settings
        The club's choices.
    folder : Path
        Where to; made if absent. Files of the same name are replaced.
    """
    pages = sheet_pages(library, settings, Workbook(keep_bodies=False))
    written = [_write(folder / "index.md", _plain(index_markdown(), index_body(pages), ""))]
    for page in pages:
        home = folder / page.slug
        written.append(_write(home / "index.md", _plain(page.markdown, page.make_body(), "../")))
        written += [_write(home / name, data) for name, data in page.files().items()]
        moved = forwarding_page(page.title, f"../{page.slug}/index.html").encode("utf-8")
        written += [_write(folder / old / "index.html", moved) for old in page.formerly]
    style = (THEME / STYLE).read_bytes()
    return [*written, _write(folder / STYLE, style)]


def index_body(pages: Iterable[SheetPage]) -> str:
    """Return the HTML table of all sheets.

    Parameters
    ----------
    pages : iterable of SheetPage
        In the order they are to be listed.
    """
    from buildsheets.library.index import render_index

    return render_index([page.figures for page in pages if page.figures is not None])


def _sheet(build: Build, settings: Settings, workbook: Workbook) -> SheetPage:
    from buildsheets.sheet import render_prose

    figures = workbook.figures(build, settings)
    return SheetPage(
        slug=build.slug,
        title=figures["title"],
        description=figures["head"]["summary"] or figures["title"],
        source=build.path,
        markdown=render_prose(figures),
        make_body=lambda: workbook.body(figures),
        figures=figures,
        formerly=figures["head"]["formerly"],
    )


def _broken(slug: str, problems: list[Problem]) -> SheetPage:
    from buildsheets.sheet import render_broken

    title = slug.replace("-", " ").capitalize()
    return SheetPage(
        slug=slug,
        title=title,
        description="This record has a problem.",
        source=Path(f"{slug}.yml"),
        markdown=f"# {title}\n\n{SHEET_BODY}\n",
        make_body=lambda: render_broken(slug, title, problems),
        figures=None,
    )


def _plain(markdown: str, body: str, up: str) -> str:
    """Markdown with the body in place, without empty lines: CommonMark ends a block of HTML at the first."""
    dense = "\n".join(line for line in body.splitlines() if line.strip())
    style = f'<link rel="stylesheet" href="{up}{STYLE}">'
    return markdown.replace(SHEET_BODY, f"<div>\n{style}\n{dense}\n</div>")


def _write(path: Path, content: str | bytes) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
    return path
