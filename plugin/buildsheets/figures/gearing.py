"""The gear train of a build: ratio, efficiency, and the mesh of every pair whose geometry is known."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from buildsheets.figures.format import Gearing, Level, StageFigures
from buildsheets.figures.gaps import WITH_SPEED
from buildsheets.figures.ledger import Ledger
from buildsheets.numerals import number as plain
from buildsheets.numerals import unbroken
from buildsheets.physics import gearing as gears
from buildsheets.physics.mesh import PRESSURE_ANGLE, mesh_verdict
from buildsheets.physics.pinion import SwappedPinion, swapped_pinion
from buildsheets.physics.values import number
from buildsheets.records import models
from buildsheets.records.quantities import Quantity

_swapped = lru_cache(maxsize=256)(swapped_pinion)
"""The same mesh is asked for by the build, by what stands beside it and by the ways; nobody changes what it holds."""

WORST: tuple[Level, ...] = ("ok", "note", "caution", "stop")


@dataclass(frozen=True)
class Train:
    """What later calculations need of the gear train."""

    figures: Gearing
    ratio: float
    efficiency: float
    back_drive_efficiency: float


@dataclass(frozen=True)
class _Mesh:
    """One pair of wheels in contact."""

    kind: str
    driver: int
    driven: int
    stage: models.SpurStage
    first: bool
    last: bool


def gear_train(train: models.GearTrain | None, ledger: Ledger, *, mesh: bool = True) -> Train | None:
    """Work out the train; None when its teeth are not known. Without `mesh` the figures of its stages stay empty."""
    if train is None or any(_teeth(wheel) is None for stage in train.stages for wheel in _ends(stage)):
        ledger.lack("gear_train.stages", "gearing", "head.drive", *WITH_SPEED)
        return None
    rows: list[StageFigures] = []
    if mesh:
        for number, stage in enumerate(train.stages, 1):
            rows += _stage_rows(number, stage, len(rows), ledger)
    ratio = math.prod(_stage_ratio(stage) for stage in train.stages)
    efficiency, back = _efficiencies(train, ledger)
    if mesh:
        _show_train(rows, ratio, efficiency, train.efficiency is not None, ledger)
    figures = Gearing(ratio=ratio, efficiency=efficiency, back_drive_efficiency=back, stages=rows)
    return Train(figures, ratio, efficiency, back)


def stage_figures(stage: models.SpurStage | models.WormStage, ledger: Ledger) -> list[StageFigures]:
    """Return the figures of one stage, a row a pair; none when its teeth are not known."""
    return [] if any(_teeth(wheel) is None for wheel in _ends(stage)) else _stage_rows(1, stage, 0, ledger)


def drive_text(rows: list[StageFigures], ratio: float | None) -> str | None:
    """One line that names the train, such as "spur 11:38, worm 1:24, 82.9 : 1"."""
    if ratio is None:
        return None
    stages = [
        f"{'spur' if row['kind'] == 'idler' else row['kind']} {row['driver_teeth']}:{row['driven_teeth']}"
        for row in rows
    ]
    return unbroken(f"{', '.join(stages)}, {plain(ratio)} : 1")


def _teeth(wheel: int | models.Gear) -> int | None:
    return wheel if isinstance(wheel, int) else wheel.teeth


def _ends(stage: models.SpurStage | models.WormStage) -> list[int | models.Gear]:
    return [stage.driven] if isinstance(stage, models.WormStage) else [stage.driver, stage.driven]


def _physical(stage: models.SpurStage | models.WormStage, ledger: Ledger) -> gears.SpurStage | gears.WormStage:
    share = stage.efficiency.value if stage.efficiency else None
    if isinstance(stage, models.SpurStage):
        if share is None:
            mesh = ledger.assume(
                "gear_train.stages.efficiency",
                "efficiency of a spur mesh",
                gears.SPUR_STAGE_EFFICIENCY,
                "",
                "fine plastic or brass hobby mesh",
            )
            share = mesh ** (len(stage.idlers) + 1)
        return gears.SpurStage(
            driver=_teeth(stage.driver) or 0,
            driven=_teeth(stage.driven) or 0,
            idlers=len(stage.idlers),
            efficiency=share,
        )
    return _physical_worm(stage, share, ledger)


def _physical_worm(stage: models.WormStage, share: float | None, ledger: Ledger) -> gears.WormStage:
    lead = gears.default_lead_angle(stage.worm)
    if stage.module and stage.worm_diameter:
        lead = number(gears.worm_lead_angle(stage.worm, stage.module.value, stage.worm_diameter.value))
    elif share is None:
        lead = number(
            np.radians(
                ledger.assume(
                    "gear_train.stages.worm_diameter",
                    "lead angle of the worm",
                    math.degrees(lead),
                    "deg",
                    lambda: f"a worm {plain(gears.WORM_DIAMETER_QUOTIENT)} modules thick",
                )
            )
        )
    friction = stage.friction.value if stage.friction else gears.WORM_FRICTION
    if stage.friction is None and share is None:
        friction = ledger.assume(
            "gear_train.stages.friction",
            "friction of worm on wheel",
            gears.WORM_FRICTION,
            "",
            "brass or acetal wheel on brass or steel worm, light oil, at model speeds",
        )
    angle = stage.pressure_angle.value if stage.pressure_angle else gears.WORM_NORMAL_PRESSURE_ANGLE
    return gears.WormStage(
        starts=stage.worm,
        driven=_teeth(stage.driven) or 0,
        lead_angle=lead,
        friction=friction,
        pressure_angle=angle,
        efficiency=share,
    )


def _stage_ratio(stage: models.SpurStage | models.WormStage) -> float:
    driver = stage.worm if isinstance(stage, models.WormStage) else _teeth(stage.driver) or 0
    return (_teeth(stage.driven) or 0) / driver


def _efficiencies(train: models.GearTrain, ledger: Ledger) -> tuple[float, float]:
    if train.efficiency is not None:
        return train.efficiency.value, number(gears.back_drive_from_efficiency(train.efficiency.value))
    stages = [_physical(stage, ledger) for stage in train.stages]
    return gears.train_efficiency(stages), gears.train_back_drive_efficiency(stages)


def _stage_rows(
    number: int, stage: models.SpurStage | models.WormStage, row: int, ledger: Ledger
) -> list[StageFigures]:
    if isinstance(stage, models.WormStage):
        physical = _physical_worm(stage, stage.efficiency.value if stage.efficiency else None, ledger)
        _show_worm(number, physical, ledger)
        return [_worm_row(number, stage, physical.forward_efficiency)]
    wheels = [_teeth(stage.driver) or 0, *stage.idlers, _teeth(stage.driven) or 0]
    kind = "idler" if stage.idlers else "spur"
    last = len(wheels) - 2
    meshes = [
        _Mesh(kind, wheels[place], wheels[place + 1], stage, place == 0, place == last) for place in range(last + 1)
    ]
    share = _physical(stage, ledger).forward_efficiency ** (1 / len(meshes))
    return [_spur_row(number, mesh, share, place, ledger) for place, mesh in enumerate(meshes, row)]


def _worm_row(number: int, stage: models.WormStage, efficiency: float) -> StageFigures:
    teeth = _teeth(stage.driven) or 0
    row = _row("worm", stage.worm, teeth, efficiency, number)
    own = stage.driven.module if isinstance(stage.driven, models.Gear) else None
    given = stage.module or own
    if given is None:
        return row
    module = given.value
    diameter = stage.worm_diameter.value if stage.worm_diameter else gears.WORM_DIAMETER_QUOTIENT * module
    _sizes(row, module, diameter / 2, teeth * module / 2, diameter / 2 + module, (teeth / 2 + 1) * module)
    row["centre_distance_mm"] = 1e3 * float(gears.worm_centre_distance(teeth, module, diameter))
    return row


def _sizes(row: StageFigures, module: float, driver: float, driven: float, driver_tip: float, driven_tip: float) -> None:
    """Note module and radii, all in m."""
    row["module_mm"] = 1e3 * module
    row["driver_reference_diameter_mm"], row["driven_reference_diameter_mm"] = 2e3 * driver, 2e3 * driven
    row["driver_tip_diameter_mm"], row["driven_tip_diameter_mm"] = 2e3 * driver_tip, 2e3 * driven_tip


def _row(kind: str, driver: int, driven: int, efficiency: float, stage: int) -> StageFigures:
    return StageFigures(
        kind=kind,
        driver_teeth=driver,
        driven_teeth=driven,
        ratio=driven / driver,
        efficiency=efficiency,
        contact_ratio=None,
        contact_ratio_span=None,
        contact_ratio_textbook=None,
        working_pressure_angle_deg=None,
        centre_distance_mm=None,
        backlash_mm=None,
        undercut=None,
        verdict=None,
        level=None,
        stage=stage,
        shares_driver=False,
        module_mm=None,
        driver_reference_diameter_mm=None,
        driven_reference_diameter_mm=None,
        driver_tip_diameter_mm=None,
        driven_tip_diameter_mm=None,
    )


def _spur_row(number: int, mesh: _Mesh, efficiency: float, place: int, ledger: Ledger) -> StageFigures:
    row = _row(mesh.kind, mesh.driver, mesh.driven, efficiency, number)
    row["shares_driver"] = not mesh.first
    module = _module(mesh.stage)
    if module is None:
        ledger.lack("gear_train.stages.module", f"gearing.stages.{place}")
        return row
    found = _swap(mesh, module, ledger)
    low, high = found.span
    row["contact_ratio"] = (low + high) / 2
    row["contact_ratio_span"] = [low, high]
    row["contact_ratio_textbook"] = _middle(found.mesh.contact_ratio_textbook)
    row["working_pressure_angle_deg"] = math.degrees(_middle(found.mesh.working_pressure_angle))
    row["centre_distance_mm"] = 1e3 * _middle(found.mesh.centre_distance)
    row["backlash_mm"] = round(1e3 * _middle(found.mesh.backlash), 9) + 0.0
    row["undercut"] = bool(np.any(found.mesh.wheel_1.undercut) or np.any(found.mesh.wheel_2.undercut))
    one, two = found.mesh.wheel_1, found.mesh.wheel_2
    pitch = (_middle(one.reference_radius), _middle(two.reference_radius))
    _sizes(row, module, *pitch, _middle(one.tip_radius), _middle(two.tip_radius))
    _judge_mesh(number, mesh, row, found, ledger)
    _show_mesh(number, row, module, found, ledger)
    return row


def _middle(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
    return float(np.min(values) + np.max(values)) / 2


def _module(stage: models.SpurStage) -> float | None:
    if stage.module:
        return stage.module.value
    for pitch in (
        stage.diametral_pitch,
        *(w.diametral_pitch for w in (stage.driver, stage.driven) if isinstance(w, models.Gear)),
    ):
        if pitch:
            return float(gears.module_from_diametral_pitch(pitch))
    for wheel in (stage.driver, stage.driven):
        if isinstance(wheel, models.Gear) and wheel.module:
            return wheel.module.value
    return None


def _shift(own: Quantity | None, wheel: int | models.Gear) -> float | None:
    if own is not None:
        return own.value
    return wheel.shift.value if isinstance(wheel, models.Gear) and wheel.shift is not None else None


def _swap(mesh: _Mesh, module: float, ledger: Ledger) -> SwappedPinion:
    stage = mesh.stage
    cut = stage.cut_for if mesh.first else None
    angle = (
        stage.pressure_angle.value
        if stage.pressure_angle
        else ledger.assume(
            "gear_train.stages.pressure_angle",
            "pressure angle",
            math.degrees(PRESSURE_ANGLE),
            "deg",
            "ISO 53 basic rack",
            "standard",
        )
        * math.pi
        / 180
    )
    shift = _shift(stage.driver_shift, stage.driver) if mesh.first else 0.0
    mate = _shift(stage.driven_shift, stage.driven) if mesh.last else 0.0
    if shift is None and mesh.driver < 17:
        ledger.assume_word(
            "gear_train.stages.driver_shift",
            "profile shift of the pinion",
            "unknown: a span is printed",
            "evaluated unshifted and shifted to (14 - z)/17 and (17 - z)/17",
        )
    return _swapped(
        mesh.driver,
        cut.driver if cut else None,
        mesh.driven,
        module,
        angle,
        new_shift=shift,
        cut_for_shift=cut.driver_shift.value if cut and cut.driver_shift else None,
        mating_shift=mate or 0.0,
        centre_distance=cut.centre_distance.value if cut and cut.centre_distance else None,
        cut_for_mating_teeth=cut.driven if cut else None,
        cut_for_mating_shift=cut.driven_shift.value if cut and cut.driven_shift else None,
    )


def _judge_mesh(number: int, mesh: _Mesh, row: StageFigures, found: SwappedPinion, ledger: Ledger) -> None:
    low, high = found.span
    words = [mesh_verdict(low), mesh_verdict(high)]
    verdict = words[0] if words[0] == words[1] else f"{words[0]} to {words[1]}, by how the pinion was cut"
    level: Level = found.level
    where = f"Stage {number}, {mesh.driver} on {mesh.driven} teeth"
    cut = mesh.stage.cut_for if mesh.first else None
    if cut and cut.driver:
        where += f" at centres made for {cut.driver}"
    message = f"{where}: {_contact(low, high)}, {verdict}."
    if found.interference_level != "ok":
        level = max(level, found.interference_level, key=WORST.index)
        sure = "jams" if found.interference_level == "stop" else "may jam"
        verdict = f"{verdict}; {sure}"
        message += (
            f" The tips {'dig' if sure == 'jams' else 'may dig'} into the roots or the backlash is gone: it {sure}."
        )
    row["verdict"], row["level"] = verdict, level
    ledger.judge("mesh", level, message)


def _contact(low: float, high: float) -> str:
    if high <= 0:
        return "no contact"
    if low <= 0:
        return f"contact ratio {plain(high)} at best, no contact at worst"
    return f"contact ratio {plain(low) if math.isclose(low, high, rel_tol=5e-3) else f'{plain(low)} to {plain(high)}'}"


def _show_train(rows: list[StageFigures], ratio: float, efficiency: float, measured: bool, ledger: Ledger) -> None:
    ledger.work(
        "Gear train",
        "overall ratio",
        "i = Π(driven / driver)",
        lambda: " × ".join(f"{row['driven_teeth']}/{row['driver_teeth']}" for row in rows),
        ratio,
        "",
        "definition; idlers cancel out",
    )
    shown = "measured" if measured else " × ".join(plain(row["efficiency"]) for row in rows)
    ledger.work(
        "Gear train",
        "efficiency",
        "η = Π η_stage",
        shown,
        efficiency,
        "",
        "worm: tan λ / tan(λ + φ), machine-design books; spur mesh: common practice",
    )


def _show_worm(number: int, worm: gears.WormStage, ledger: Ledger) -> None:
    if worm.efficiency is not None:
        return
    lead, friction = math.degrees(worm.lead), math.degrees(worm.friction_angle)
    ledger.work(
        "Gear train",
        f"efficiency of the worm, stage {number}",
        "η = tan λ / tan(λ + φ), φ = atan(μ / cos α_n)",
        lambda: f"λ {plain(lead, 4)}°, φ {plain(friction, 4)}° from μ {plain(worm.friction)} "
        f"and α_n {plain(math.degrees(worm.pressure_angle))}°",
        worm.forward_efficiency,
        "",
        "machine-design books",
    )


def _show_mesh(number: int, row: StageFigures, module: float, found: SwappedPinion, ledger: Ledger) -> None:
    """Work the poorest case of the span: its textbook ratio follows from the radii, what undercut takes is stated."""
    mesh = found.mesh
    ratio, textbook, centres, base_1, base_2, tip_1, tip_2 = (
        np.ravel(values)
        for values in np.broadcast_arrays(
            mesh.contact_ratio,
            mesh.contact_ratio_textbook,
            mesh.centre_distance,
            mesh.wheel_1.base_radius,
            mesh.wheel_2.base_radius,
            mesh.wheel_1.tip_radius,
            mesh.wheel_2.tip_radius,
        )
    )
    place = int(np.argmin(ratio))
    low = float(ratio[place])
    taken = (
        "negative by the formula: the teeth do not meet"
        if low <= 0
        else f"{plain(float(textbook[place]), 4)} by the formula, undercut takes "
        f"{plain(round(float(textbook[place]) - low, 4))}"
    )
    ledger.work(
        "Gear train",
        f"contact ratio of stage {number}, {row['driver_teeth']} on {row['driven_teeth']}, undercut taken off"
        + ("" if np.allclose(ratio, low) else "; lowest of the ways the pinion may be cut"),
        "ε = [√(r_a1² − r_b1²) + √(r_a2² − r_b2²) − a sin α_w] / (π m cos α), clipped at undercut and base tangent",
        lambda: f"base radii {plain(1e3 * float(base_1[place]), 5)} and {plain(1e3 * float(base_2[place]), 5)} mm, "
        f"tip radii {plain(1e3 * float(tip_1[place]), 5)} and {plain(1e3 * float(tip_2[place]), 5)} mm, "
        f"centres {plain(1e3 * float(centres[place]), 5)} mm, module {plain(1e3 * module)} mm: {taken}",
        low,
        "",
        "ISO 21771 (formula from machine-design books)",
    )
