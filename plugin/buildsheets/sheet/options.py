"""What a site chooses about its sheets."""

from __future__ import annotations

from dataclasses import dataclass

from buildsheets.languages import ENGLISH, Language

SPEED_UNITS = ("mph", "km/h")
PAPERS = ("A4", "Letter")


@dataclass(frozen=True)
class SheetOptions:
    """Choices of the club for every sheet.

    Parameters
    ----------
    speed_unit : str
        "mph" or "km/h".
    paper : str
        "A4" or "Letter".
    club : str
        Name printed as the owner of the sheet; empty for none.
    data_path : str
        Prefix of the links to the data files, "" when they lie beside the page.
    address : str
        Where a sheet is published, ``{slug}`` standing for its name; empty where the site has no address.
    pdf : bool
        Whether a PDF of each sheet lies beside its page.
    language : Language
        What the fixed words are printed in.
    logo : str
        Address of the club's logo as seen from a sheet; empty for none.
    logo_made_of : str
        Hash of the logo, so that a new one is taken for one.
    """

    speed_unit: str = "mph"
    paper: str = "A4"
    club: str = ""
    data_path: str = ""
    address: str = ""
    pdf: bool = False
    language: Language = ENGLISH
    logo: str = ""
    logo_made_of: str = ""

    def address_of(self, slug: str) -> str:
        """Return where a sheet is published; empty where the site has no address.

        Parameters
        ----------
        slug : str
            Name of the record.
        """
        return self.address.replace("{slug}", slug)

    def __post_init__(self) -> None:
        """Refuse a unit or a paper that no sheet knows."""
        if self.speed_unit not in SPEED_UNITS:
            raise ValueError(f"speed_unit must be one of {SPEED_UNITS}, not {self.speed_unit!r}")
        if self.paper not in PAPERS:
            raise ValueError(f"paper must be one of {PAPERS}, not {self.paper!r}")
