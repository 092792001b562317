"""The gallery: a picture of every page, and of every state a page can be in."""

from __future__ import annotations

from firmware.screens.fields import BY_NAME
from firmware.screens.gallery import GALLERY
from firmware.screens.pages import PAGES
from firmware.settings import SETTINGS

VIEWS = dict(GALLERY)


def test_every_page_has_a_picture_named_after_it() -> None:
    assert {view.page for view in VIEWS.values()} == {page.name for page in PAGES}
    assert len(VIEWS) == len(GALLERY)
    assert all(name.startswith(view.page) for name, view in GALLERY)


def test_every_state_has_a_picture() -> None:
    views = VIEWS.values()
    assert {view.drone_on for view in views} == {True, False}
    assert {view.pulse_on for view in views} == {True, False}
    assert {view.ear for view in views} >= {"off", "watch"}
    assert any(view.comparing for view in views)
    assert any(view.badge for view in views)
    assert any(view.taking and view.clipped for view in views)
    assert any(view.replaying for view in views)
    assert any(view.heard and view.heard.beats for view in views)
    assert any(view.message for view in views)
    assert any(view.plan_title for view in views)
    assert any(not view.stick for view in views)


def test_views_hold_settings_that_the_box_accepts() -> None:
    for name, view in GALLERY:
        assert set(view.values) == {setting.name for setting in SETTINGS}, name
        assert all(setting.accepts(view.values[setting.name]) for setting in SETTINGS), name
        assert view.cursor in BY_NAME, name
