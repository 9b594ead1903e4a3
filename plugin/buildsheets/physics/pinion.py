"""Another pinion in a mount with fixed centres.

Nobody at the bench knows how a small pinion was cut. So the swap is worked out for the usual
ways of cutting both the old pinion, which sets the centre distance, and the new one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from buildsheets.physics.mesh import (
    CARRYING_CONTACT_RATIO,
    PRESSURE_ANGLE,
    SOUND_CONTACT_RATIO,
    SpurMesh,
    fixed_centres,
    spur_mesh,
)

Level = Literal["ok", "caution", "stop"]
Assumption = tuple[str, float]

SHIFT_PRACTICES = ("unshifted", "shifted to 14", "shifted to 17")
"""Ways of cutting small pinions. The last two give x = (14 - z)/17 and (17 - z)/17 where positive.

Machine-design books: shifts that just tolerate and just avoid undercut at 20 degrees (from memory).
"""


@dataclass(frozen=True)
class SwappedPinion:
    """Every assumption about a pinion swap with its mesh; arrays run over the assumptions.

    Attributes
    ----------
    old_practice, new_practice : tuple of str
        How each pinion is taken to be cut: an entry of `SHIFT_PRACTICES`, "given" for a stated
        shift, or "measured" for the old one when the centre distance was measured.
    old_shift, new_shift : ndarray, shape (n,)
        Profile shift coefficients; not a number for an old pinion that does not matter. [-]
    mesh : SpurMesh
        New pinion (wheel 1) with the mating wheel (wheel 2), arrays of shape (n,).
    """

    old_practice: tuple[str, ...]
    new_practice: tuple[str, ...]
    old_shift: NDArray[np.float64]
    new_shift: NDArray[np.float64]
    mesh: SpurMesh

    @property
    def span(self) -> tuple[float, float]:
        """Lowest and highest contact ratio of all assumptions. [-]"""
        return float(np.min(self.mesh.contact_ratio)), float(np.max(self.mesh.contact_ratio))

    @property
    def same_maker(self) -> NDArray[np.bool_]:
        """Where both pinions follow one practice, or at most one of them had to be assumed."""
        return np.array(
            [
                old == new or bool({old, new} & {"given", "measured"})
                for old, new in zip(self.old_practice, self.new_practice, strict=True)
            ]
        )

    @property
    def level(self) -> Level:
        """Judgement of the contact ratio: stop only if no assumption carries the drive over."""
        low, high = self.span
        if high < CARRYING_CONTACT_RATIO:
            return "stop"
        return "ok" if low >= SOUND_CONTACT_RATIO else "caution"

    @property
    def interference_level(self) -> Level:
        """Judgement of too deep a mesh, apart from the contact ratio: stop if under every assumption."""
        if np.all(self.mesh.interference):
            return "stop"
        return "caution" if np.any(self.mesh.interference) else "ok"


def practice_shift(teeth: int, practice: str) -> float:
    """Profile shift of a pinion cut by one of the usual practices.

    Parameters
    ----------
    teeth : int
        Of the pinion. [-]
    practice : str
        An entry of `SHIFT_PRACTICES`. [-]

    Returns
    -------
    float
        Profile shift coefficient, zero or more. [-]

    Raises
    ------
    ValueError
        If the practice is not known.

    References
    ----------
    .. [1] Machine-design books (from memory), 20 degree rack: (14 - z)/17 and (17 - z)/17.
    """
    limits = dict(zip(SHIFT_PRACTICES, (0, 14, 17), strict=True))
    if practice not in limits:
        raise ValueError(f"a practice is one of {', '.join(SHIFT_PRACTICES)}, not {practice!r}")
    return max(0.0, (limits[practice] - teeth) / 17)


def _assumed_shifts(teeth: int, shift: float | None) -> list[Assumption]:
    if shift is not None:
        return [("given", shift)]
    return [(practice, practice_shift(teeth, practice)) for practice in SHIFT_PRACTICES]


def _assumed_pairs(
    new: list[Assumption], old: list[Assumption] | None, measured: bool
) -> list[tuple[Assumption, Assumption]]:
    """Old and new assumption of each case; a pinion in its own mount is not cut two ways at once."""
    if measured:
        return [(("measured", float("nan")), now) for now in new]
    if old is None:
        return [(now, now) for now in new]
    return [(was, now) for was in old for now in new]


def swapped_pinion(
    new_teeth: int,
    cut_for_teeth: int | None,
    mating_teeth: int,
    module: float,
    pressure_angle: float = PRESSURE_ANGLE,
    *,
    new_shift: float | None = None,
    cut_for_shift: float | None = None,
    mating_shift: float = 0.0,
    centre_distance: float | None = None,
    cut_for_mating_teeth: int | None = None,
    cut_for_mating_shift: float | None = None,
) -> SwappedPinion:
    """Mesh of a new pinion at the centres that were cut for another, under every usual assumption.

    Parameters
    ----------
    new_teeth : int
        Of the pinion in the mount now. [-]
    cut_for_teeth : int or None
        Of the pinion the mount was cut for; None if it was cut for this very pinion. [-]
    mating_teeth : int
        Of the wheel the new pinion runs with. [-]
    module : float
        Module. [m]
    pressure_angle : float
        Of the rack. [rad]
    new_shift, cut_for_shift : float, optional
        Profile shift coefficients; each that is not known is assumed three ways. [-]
    mating_shift : float
        Profile shift coefficient of the mating wheel. [-]
    centre_distance : float, optional
        Measured; it wins over what follows from the old pair. [m]
    cut_for_mating_teeth : int, optional
        Of the wheel the mount was cut for, if it was another than the mating wheel. [-]
    cut_for_mating_shift : float, optional
        Its profile shift coefficient, if it was another than that of the mating wheel. [-]

    Returns
    -------
    SwappedPinion
        One entry per assumption: nine for a swap with both shifts unknown, else three or one.

    Raises
    ------
    ValueError
        As `spur_mesh`.

    Notes
    -----
    The old pair is taken to run without backlash at the mount's centres. Practice leaves a little,
    which lowers the contact ratio by a few hundredths and is known only once measured.

    References
    ----------
    .. [1] ISO 21771 for the centres; three practices of shift as in `practice_shift`.
    """
    old_mate = mating_teeth if cut_for_mating_teeth is None else cut_for_mating_teeth
    old_mate_shift = mating_shift if cut_for_mating_shift is None else cut_for_mating_shift
    pairs = _assumed_pairs(
        _assumed_shifts(new_teeth, new_shift),
        None if cut_for_teeth is None else _assumed_shifts(cut_for_teeth, cut_for_shift),
        measured=centre_distance is not None,
    )
    old_shift = np.array([was[1] for was, _ in pairs])
    shifts = np.array([now[1] for _, now in pairs])
    if centre_distance is None:
        centres = fixed_centres(
            new_teeth if cut_for_teeth is None else cut_for_teeth,
            old_mate,
            module,
            pressure_angle,
            shift=old_shift,
            mating_shift=old_mate_shift,
        )
    else:
        centres = np.full(len(pairs), centre_distance)
    return SwappedPinion(
        old_practice=tuple(was[0] for was, _ in pairs),
        new_practice=tuple(now[0] for _, now in pairs),
        old_shift=old_shift,
        new_shift=shifts,
        mesh=spur_mesh(new_teeth, mating_teeth, module, centres, pressure_angle, shift_1=shifts, shift_2=mating_shift),
    )
