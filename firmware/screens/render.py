"""From what the box knows to what the screen shows."""

from __future__ import annotations

from dataclasses import replace

from firmware.screens.frame import Frame
from firmware.screens.header import draw_header
from firmware.screens.in_words import in_words
from firmware.screens.pages import PAGES
from firmware.screens.raster import Canvas
from firmware.screens.strip import draw_strip
from firmware.screens.view import View


def render(view: View) -> Frame:
    """Picture of a view: header, body of its page, and the message over it if there is one."""
    return paint(view).done()


def paint(view: View) -> Canvas:
    """Paint a view; the canvas also knows which texts did not fit. An unknown page shows the first one."""
    place = next((number for number, page in enumerate(PAGES) if page.name == view.page), 0)
    view = in_words(replace(view, page=PAGES[place].name))
    canvas = Canvas()
    draw_header(canvas, view, place, len(PAGES))
    PAGES[place].draw(canvas, view)
    if view.message:
        draw_strip(canvas, view.message)
    return canvas
