"""A speed curve as small as a word, for the list of the library."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

WIDTH, HEIGHT = 72, 24  # user units
EVERY = 6  # steps from one corner of the line to the next: 21 stretches over 126 steps


def spark(speeds: Sequence[float | None], limit: float | None) -> Markup:
    """Return an inline drawing: speed over the steps as a line, the prototype's top speed as a dashed one.

    It repeats what the row says in numbers, so that readers without eyes lose nothing.

    Parameters
    ----------
    speeds : sequence of float or None
        Scale speed over the steps, in any unit.
    limit : float or None
        Top speed of the prototype, in the same unit.
    """
    known = [(place, speed) for place, speed in enumerate(speeds, 1) if speed is not None]
    top = max([speed for _, speed in known] + ([limit] if limit else []), default=0.0)
    if not known or top <= 0:
        return Markup()
    last = known[-1][0]
    corners = [(place, speed) for place, speed in known if place % EVERY == 0 or place in (1, last)]
    line = " ".join(f"{place / last * WIDTH:.0f},{HEIGHT - 1 - speed / top * (HEIGHT - 2):.1f}" for place, speed in corners)
    dashes = ""
    if limit:
        height = HEIGHT - 1 - limit / top * (HEIGHT - 2)
        dashes = f'<path class="bs-spark__limit" d="M0 {height:.1f}H{WIDTH}"/>'
    return Markup(
        f'<svg class="bs-spark" viewBox="0 0 {WIDTH} {HEIGHT}" aria-hidden="true" focusable="false">{dashes}'
        f'<polyline points="{line}"/></svg>'
    )
