"""`keelnote mend` on sticks as power cuts and people leave them."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import soundfile

from hardware.commands.mend import STILL_DAMAGED, printable
from hardware.desk import BAD_INPUT, main
from hardware.drivers.stick import FolderStick


def cut_take(root: Path, path: str = "rehearsals/0001/take-01.flac") -> Path:
    stick = FolderStick(root / "KEELNOTE")
    take = stick.open_take(path)
    take.write(np.random.default_rng(2).uniform(-0.4, 0.4, 48_000 * 65).astype(np.float32))
    data = (stick.root / path).read_bytes()
    take.close()
    (stick.root / path).write_bytes(data)
    return stick.root / path


def test_a_cut_take_is_mended_and_told_with_its_length(tmp_path: Path, capsys) -> None:
    place = cut_take(tmp_path)
    assert main(["mend", str(tmp_path)]) == 0
    first, last = capsys.readouterr().out.splitlines()
    assert first == "rehearsals/0001/take-01.flac: 1 min 4.9 s, mended"
    assert last == "1 file looked at, 1 take of 1 min 4.9 s in all; 1 mended, 0 damaged."
    assert soundfile.info(place).frames == 48_000 * 65 // 4096 * 4096
    assert main(["mend", str(place.parent), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["path"], told["mended"], told["damage"]) == ("take-01.flac", False, [])


def test_what_stays_damaged_is_said_and_answered_with_1(tmp_path: Path, capsys) -> None:
    place = cut_take(tmp_path)
    (place.parent / "log.jsonl").write_text('{"t": 1}\n')
    assert main(["mend", str(tmp_path / "KEELNOTE")]) == STILL_DAMAGED
    out = capsys.readouterr().out
    assert "log.jsonl: 1 line can't be read, all others are used" in out
    assert "1 mended, 1 damaged" in out


def test_a_folder_without_files_of_the_box_is_refused(tmp_path: Path, capsys) -> None:
    (tmp_path / "photo.jpg").write_bytes(b"x")
    assert main(["mend", str(tmp_path)]) == BAD_INPUT
    assert main(["mend", str(tmp_path / "none")]) == BAD_INPUT
    assert "no file of the box" in capsys.readouterr().err


def test_names_of_any_kind_are_shown_as_a_terminal_can() -> None:
    assert printable("a\x1b[31m\udcff♭") == "a?[31m?♭"
