"""The code of dataclasses, kept and taken up again: the same classes come out, sooner."""

from __future__ import annotations

import dataclasses
import marshal
import subprocess
import sys
from pathlib import Path
from types import CodeType
from typing import Any

import pytest

from hardware.service.quick_load import NAME, loading, read, recording

ROOT = Path(__file__).parents[3]


def make(more: str = "") -> type:
    fields: list[Any] = [("tonic", str), ("level", float, dataclasses.field(default=0.5))]
    return dataclasses.make_dataclass(
        "Made" + more, [*fields, *([(more, int, dataclasses.field(default=4))] if more else [])], frozen=True
    )


def kept(path: Path) -> Path:
    with recording() as found:
        make()
    path.write_bytes(marshal.dumps(found, 2))
    return path


def test_a_class_made_of_what_was_kept_is_the_same(tmp_path: Path) -> None:
    table = read(kept(tmp_path / "kept"))
    used = Counting(table)
    with loading(used):
        one = make()
    assert used.found > 0
    assert used.missed == 0
    plain = make()
    assert repr(one("D")) == repr(plain("D"))
    assert one("D") == one("D", 0.5) != one("E")
    assert hash(one("D")) == hash(plain("D"))
    with pytest.raises(dataclasses.FrozenInstanceError):
        one("D").level = 0.1


def test_what_was_not_kept_is_compiled_as_ever(tmp_path: Path) -> None:
    used = Counting(read(kept(tmp_path / "kept")))
    with loading(used):
        other = make("beats")
    assert used.missed > 0
    assert repr(other("D", 0.5, 3)) == "Madebeats(tonic='D', level=0.5, beats=3)"


@pytest.mark.parametrize("content", [b"", b"\0", b"no code at all"])
def test_a_table_that_cannot_be_read_is_none(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "kept").write_bytes(content)
    assert not read(tmp_path / "kept")
    assert not read(tmp_path / "absent")


def test_nothing_of_it_stays() -> None:
    with loading({}), pytest.raises(ZeroDivisionError):
        _ = 1 // 0
    assert NAME not in vars(dataclasses)


@pytest.mark.long
def test_the_whole_box_loads_from_what_its_own_run_kept(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "hardware.service.quick_load", str(tmp_path / "kept")]
    subprocess.run(command, cwd=ROOT, check=True)
    look = (
        "import dataclasses, pathlib\n"
        "from hardware.service.quick_load import loading, read\n"
        f"kept = read(pathlib.Path({str(tmp_path / 'kept')!r}))\n"
        "missed = []\n"
        "class Watched(dict):\n"
        "    def get(self, text, other):\n"
        "        missed.extend([] if text in self else [text])\n"
        "        return super().get(text, other)\n"
        "with loading(Watched(kept)):\n"
        "    import hardware.desk\n"
        "assert len(kept) > 100 and not missed, (len(kept), missed[:1])\n"
    )
    subprocess.run([sys.executable, "-c", look], cwd=ROOT, check=True)


class Counting(dict[str, CodeType]):
    """A table that counts what it is asked for."""

    found = missed = 0

    def get(self, key: str, default: Any = None) -> Any:  # noqa: ANN401 - as a dict's own
        self.found += key in self
        self.missed += key not in self
        return super().get(key, default)
