"""What the rest of a site wants to know of a finished sheet, and of the pictures it was made with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from buildsheets.records.files import stamp_of

if TYPE_CHECKING:
    from buildsheets.records.library import Build


@dataclass(frozen=True)
class Card:
    """What the rest of the site wants to know of a sheet."""

    title: str
    description: str
    markdown: str
    formerly: list[str]
    unshown: dict[str, str] = field(default_factory=dict)  # pictures that could not be published, and why
    pictures: list[tuple[str, tuple[int, int] | None]] = field(default_factory=list)  # file and stamp
    uses: list[tuple[str, str, list[str]]] = field(default_factory=list)  # section, name and roles of stock parts
    changed: str | None = None  # last day in the record
    preview: str = ""  # what the picture shows that stands for it; empty where there is none

    def as_data(self) -> dict[str, Any]:
        """Return plain data."""
        return dict(vars(self))

    @classmethod
    def of_data(cls, data: Mapping[str, Any]) -> Card:
        """Return the card that `as_data` described, after a way through JSON.

        Parameters
        ----------
        data : mapping
            As described.
        """
        stamps = [(file, None if stamp is None else (stamp[0], stamp[1])) for file, stamp in data["pictures"]]
        uses = [(section, name, list(roles)) for section, name, roles in data["uses"]]
        return cls(**{**data, "pictures": stamps, "uses": uses})


def picture_stamps(build: Build) -> list[tuple[str, tuple[int, int] | None]]:
    """Return the pictures of a record with what changes when one is replaced by another of the same name.

    Parameters
    ----------
    build : Build
        A valid record.
    """
    files = dict.fromkeys(picture.file for picture in build.record.pictures)
    return [(file, stamp_of(build.path.parent / file)) for file in files]
