"""Plans and scores on the stick: found in order, read when asked, the last that was asked for at last."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from firmware.errors import DeviceError
from firmware.events import Event, PlanRead
from hardware.drivers.stick import FolderStick
from hardware.plan_reader import MOST_PLANS, PlanReader, plan_on, plans_on

SCORE = "<score-partwise><part id='P1'><measure number='1'/></part></score-partwise>"


@pytest.fixture
def stick(tmp_path: Path) -> FolderStick:
    return FolderStick(tmp_path / "KEELNOTE")


class SlowStick(FolderStick):
    """A stick whose files come when they are let go."""

    def __init__(self, root: Path) -> None:
        super().__init__(root)
        self.let_go = threading.Event()
        self.asked: list[str] = []

    def read_bytes(self, path: str, most: int) -> bytes | None:
        self.asked.append(path)
        self.let_go.wait(10)
        return super().read_bytes(path, most)


def test_plans_come_before_scores_and_scores_before_midi_files(stick: FolderStick) -> None:
    for name in ("b.mid", "a.MXL", "d.toml", "c.xml", "b.toml", "notes.txt", "._b.toml"):
        stick.write_text(f"plans/{name}", "")
    assert plans_on(stick) == tuple(f"plans/{name}" for name in ("b.toml", "d.toml", "a.MXL", "c.xml", "b.mid"))
    for number in range(MOST_PLANS):
        stick.write_text(f"plans/{number}.toml", "")
    assert len(plans_on(stick)) == MOST_PLANS


def test_a_stick_that_fails_has_no_plans(stick: FolderStick, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_folder: str) -> tuple[str, ...]:
        raise DeviceError("stick", "", "there")

    monkeypatch.setattr(stick, "names", fail)
    assert plans_on(stick) == ()


def test_what_is_wrong_comes_as_lines(stick: FolderStick) -> None:
    stick.write_text("plans/a.toml", "[[step]]\ntempo = 900\n")
    plan, (line,) = plan_on(stick, "plans/a.toml")
    assert plan is not None
    assert line.startswith("plans/a.toml, line 2: step.tempo 900")
    stick.write_text("plans/b.mxl", "PK nothing")
    assert plan_on(stick, "plans/b.mxl")[0] is None
    assert plan_on(stick, "plans/gone.toml") == (None, ("plans/gone.toml is no longer on the stick",))
    odd = SCORE.replace(
        "<measure number='1'/>", "<measure><attributes><key><key-step>C</key-step></key></attributes></measure>"
    )
    stick.write_text("plans/c.xml", odd)
    assert plan_on(stick, "plans/c.xml")[1] == ("plans/c.xml, a key of single accidentals is left out",)


def test_without_a_thread_a_plan_is_there_at_once(stick: FolderStick) -> None:
    stick.write_text("plans/ferry.xml", SCORE)
    told: list[Event] = []
    PlanReader(stick, told.append, lambda: 7, background=False).open("plans/ferry.xml")
    (read,) = told
    assert isinstance(read, PlanRead)
    assert (read.at, read.path, read.problems) == (7, "plans/ferry.xml", ())
    assert read.plan is not None
    assert read.plan.title == "ferry"


def test_with_a_thread_nobody_waits_and_only_the_last_plan_is_read(tmp_path: Path) -> None:
    stick = SlowStick(tmp_path / "KEELNOTE")
    for name in "abc":
        stick.write_text(f"plans/{name}.xml", SCORE)
    told: list[PlanRead] = []
    done = threading.Event()

    def post(event: Event) -> None:
        assert isinstance(event, PlanRead)
        told.append(event)
        if event.path == "plans/c.xml":
            done.set()

    reader = PlanReader(stick, post, lambda: 0, background=True)
    for name in "abc":
        reader.open(f"plans/{name}.xml")
    assert told == []
    stick.let_go.set()
    assert done.wait(10)
    assert [event.path for event in told] in (
        ["plans/a.xml", "plans/c.xml"],
        ["plans/b.xml", "plans/c.xml"],
        ["plans/c.xml"],
    )
    done.clear()
    reader.open("plans/c.xml")
    assert done.wait(10)
