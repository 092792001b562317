"""An earlier rehearsal is replaced; a file that no rehearsal wrote is never touched."""

import shutil
import subprocess
from pathlib import Path

import pytest

from firmware.errors import BadFileError, DeviceError, KeelnoteError
from hardware.simulated.output_folder import SUMS, UNFINISHED, OutputFolder, cannot_write

FILES = ("speaker.wav", "screens.png", "KEELNOTE/settings.toml", "KEELNOTE/rehearsals/0001/take-01.flac")


def write(path: Path, *names: str, text: str = "x") -> None:
    for name in names:
        (path / name).parent.mkdir(parents=True, exist_ok=True)
        (path / name).write_text(text, encoding="utf-8")


@pytest.fixture
def folder(tmp_path: Path) -> OutputFolder:
    """Give a folder that holds a finished rehearsal."""
    found = OutputFolder(tmp_path / "deep" / "out")
    found.begin()
    write(found.path, *FILES)
    found.finish()
    return found


def names(folder: OutputFolder) -> set[str]:
    return {place.relative_to(folder.path).as_posix() for place in folder.path.rglob("*") if not place.is_dir()}


def test_a_new_folder_is_made(folder: OutputFolder):
    assert names(folder) == {*FILES, SUMS}
    assert folder.written() == sorted(FILES)


def test_an_empty_folder_is_taken(tmp_path: Path):
    OutputFolder(tmp_path).begin()
    assert (tmp_path / UNFINISHED).exists()


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="needs sha256sum")
def test_the_sums_are_what_sha256sum_reads(folder: OutputFolder):
    # Source of the truth: sha256sum of GNU coreutils.
    subprocess.run(["sha256sum", "--check", "--strict", "--quiet", SUMS], cwd=folder.path, check=True)


def test_an_earlier_rehearsal_is_replaced(folder: OutputFolder):
    folder.begin()
    assert names(folder) == {UNFINISHED}
    write(folder.path, "mic.wav")
    folder.finish()
    assert names(folder) == {"mic.wav", SUMS}


def test_an_interrupted_rehearsal_is_replaced(folder: OutputFolder):
    folder.begin()
    write(folder.path, *FILES, "KEELNOTE/rehearsals/0001/notes.csv.new")
    folder.begin()
    assert names(folder) == {UNFINISHED}


@pytest.mark.parametrize("name", ["notes.txt", "KEELNOTE/rehearsals/0001/other.flac", "KEELNOTE/plans/mine.toml"])
@pytest.mark.parametrize("unfinished", [False, True])
def test_a_foreign_file_stops_everything(folder: OutputFolder, name: str, *, unfinished: bool):
    if unfinished:
        write(folder.path, UNFINISHED)
    write(folder.path, name)
    before = names(folder)
    with pytest.raises(BadFileError, match=name):
        folder.begin()
    assert names(folder) == before


def test_a_file_that_was_changed_is_foreign(folder: OutputFolder):
    write(folder.path, "speaker.wav", text="mine now")
    with pytest.raises(BadFileError, match=r"speaker\.wav"):
        folder.begin()
    assert (folder.path / "speaker.wav").read_text() == "mine now"


def test_any_other_folder_is_left_alone(tmp_path: Path):
    write(tmp_path, "a", "b", "c", "d")
    with pytest.raises(BadFileError, match="a, b, c and more"):
        OutputFolder(tmp_path).begin()
    assert not (tmp_path / UNFINISHED).exists()


def test_a_list_of_sums_of_something_else_is_no_licence(tmp_path: Path):
    write(tmp_path, SUMS, text="nonsense\nabc  speaker.wav\n")
    write(tmp_path, "speaker.wav")
    with pytest.raises(BadFileError):
        OutputFolder(tmp_path).begin()


def test_links_are_neither_followed_nor_removed(folder: OutputFolder, tmp_path: Path):
    write(tmp_path, "precious.txt")
    (folder.path / "speaker.wav").unlink()
    (folder.path / "speaker.wav").symlink_to(tmp_path / "precious.txt")
    with pytest.raises(BadFileError):
        folder.begin()
    assert (tmp_path / "precious.txt").read_text() == "x"


def test_hidden_files_are_passed_over(folder: OutputFolder):
    write(folder.path, ".hidden/thing", ".note")
    folder.begin()
    assert names(folder) == {UNFINISHED, ".hidden/thing", ".note"}


def test_a_file_in_place_of_the_folder(tmp_path: Path):
    write(tmp_path, "out")
    with pytest.raises(BadFileError, match="This is a file"):
        OutputFolder(tmp_path / "out").begin()


def test_a_place_that_cannot_be_written(tmp_path: Path):
    write(tmp_path, "file")
    with pytest.raises(KeelnoteError):
        OutputFolder(tmp_path / "file" / "out").begin()
    error = cannot_write(tmp_path, OSError(28, "No space left on device"))
    assert isinstance(error, DeviceError)
    assert "No space left on device" in error.text
    assert "broken" in cannot_write(tmp_path, RuntimeError("broken")).text
