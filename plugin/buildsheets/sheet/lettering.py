"""Lettering of a chart as matplotlib draws it; imported only where something is drawn."""

from __future__ import annotations

from matplotlib.backend_bases import RendererBase
from matplotlib.text import Text


class Lettering(Text):
    """One line of lettering that the reader's program sets, from its anchor, in the reader's font.

    So nothing has to be measured beforehand: no font is looked for and no letter can be missing from it.
    """

    def draw(self, renderer: RendererBase | None) -> None:
        """Hand the words to the renderer, without the layout that outlines and boxes of letters would want."""
        if renderer is None or not self.get_text():
            return
        x, y = self.get_transform().transform(self.get_position())
        pen = renderer.new_gc()
        pen.set_foreground(self.get_color())
        down = renderer.get_canvas_width_height()[1] - y if renderer.flipy() else y
        renderer.draw_text(pen, x, down, self.get_text(), self.get_fontproperties(), self.get_rotation(), mtext=self)
        pen.restore()
