"""What is not TOML is blanked line for line, and named; the rest is read."""

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.plan.toml_salvage import read_toml


def test_a_good_text_is_read_as_it_stands():
    text = 'a = 1\r\n[b]\nc = "x"\n'
    data, mended, problems = read_toml(text, "x.toml")
    assert data == tomllib.loads(text) == {"a": 1, "b": {"c": "x"}}
    assert mended == text.replace("\r\n", "\n")
    assert problems == ()


@pytest.mark.parametrize(
    ("text", "mended"),
    [
        ("a = 1\nb\nc = 3\n", "a = 1\n\nc = 3\n"),
        ('a = "open\nb = 2\n', "\nb = 2\n"),
        ('a = """open\nb = 2\n', "\nb = 2\n"),
        ("a = [1,\nb = 2\n", "\nb = 2\n"),
        ("[a\nb = 2\n[c]\nd = 4\n", "\n\n[c]\nd = 4\n"),
        ("[a]\nb = 2\n[a]\nb = 3\nc = 4", "[a]\nb = 2\n\n\n"),
        ("a = 1\n# \x01\nb = 2", "a = 1\n\nb = 2"),
        ("a = 1\n\x00", "a = 1\n"),
        ("a = [\n1,\nx\n]\nb = 2", "\n\n\n\nb = 2"),
    ],
)
def test_only_the_broken_statement_is_blanked(text: str, mended: str):
    data, found, problems = read_toml(text, "x.toml")
    assert found == mended
    assert data == tomllib.loads(mended)
    assert len(problems) == 1


def test_the_reason_is_the_readers_own():
    _, _, (problem,) = read_toml("a = 1\na = 2\n", "x.toml")
    assert problem.text == (
        "x.toml, line 2: column 6 'a = 2' is not accepted: this is not TOML, cannot overwrite a value. Mend it."
    )


@given(st.lists(st.sampled_from(["a", "=", "1", "[", "]", '"', "'''", "\n", ".", "{", "#", "\r", ","]), max_size=30))
@settings(max_examples=200, deadline=None)
def test_what_is_left_is_always_toml(pieces: list[str]):
    text = "".join(pieces)
    data, mended, problems = read_toml(text, "x.toml")
    assert tomllib.loads(mended) == data
    if not problems:
        assert mended.count("\n") == text.replace("\r\n", "\n").count("\n")
