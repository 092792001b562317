"""Every problem of a TOML text is named with its line, key and what is allowed; the rest still counts."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.errors import OutOfRangeError
from firmware.plan.checked_toml import Checked, Entry, Section, check, decode


def even(number: int) -> int:
    """Halve an even number."""
    if number % 2:
        raise OutOfRangeError("number", number, "an even number", "Take the next.")
    if number == 8:
        raise ValueError("not eight")
    return number // 2


TABLE = (
    Entry("tonic", ("Bb", "C", "F#"), default="Bb"),
    Entry("a4", float, 380, 480, 440.0),
    Entry("beats", int, 1, 8, 4),
    Entry("on", bool, default=False),
    Entry("title", str, 1, 20, "untitled"),
    Entry("even", int, 0, None, 1, convert=even),
    Entry("size", (1, 2, 4), default=1),
    Section("room", (Entry("rt60", float, 0, None, 0.8), Entry("name", str, required=True))),
    Section("cue", (Entry("at", float, 0, required=True), Entry("key", str)), many=True),
)
DEFAULTS = {
    "tonic": "Bb",
    "a4": 440.0,
    "beats": 4,
    "on": False,
    "title": "untitled",
    "even": 1,
    "size": 1,
    "room": {"line": 1, "rt60": 0.8, "name": None},
    "cue": (),
}


def checked(text: str) -> Checked:
    return check(text, "test.toml", TABLE)


def test_an_empty_text_gives_the_defaults():
    assert checked("") == Checked(DEFAULTS, ())


def test_right_values_are_taken():
    text = (
        'tonic = "F#"\na4 = 442\non = true\neven = 6\nsize = 4\nroom.name = "hall"\n[[cue]]\nat = 1\n[[cue]]\nat = 2.5'
    )
    found = checked(text)
    assert found.problems == ()
    assert found.values["tonic"] == "F#"
    assert found.values["a4"] == 442.0
    assert isinstance(found.values["a4"], float)
    assert found.values["even"] == 3
    assert found.values["room"] == {"line": 6, "rt60": 0.8, "name": "hall"}
    assert found.values["cue"] == ({"line": 7, "at": 1.0, "key": None}, {"line": 9, "at": 2.5, "key": None})


@pytest.mark.parametrize(
    ("line", "key", "words"),
    [
        ('tonic = "H"', "tonic", ["'H'", "Bb, C, F#"]),
        ('tonic = "Bbb"', "tonic", ["Did you mean Bb?"]),
        ("tonic = 1", "tonic", ["Bb, C, F#"]),
        ("a4 = 500", "a4", ["500", "a number from 380 to 480"]),
        ("a4 = nan", "a4", ["a number from"]),
        ("a4 = inf", "a4", ["inf"]),
        ("a4 = true", "a4", ["True"]),
        ("a4 = 1979-05-27", "a4", ["1979"]),
        ("beats = 3.0", "beats", ["a whole number from 1 to 8"]),
        ("beats = [1]", "beats", ["a list"]),
        ("beats = 9" + "9" * 3000, "beats", ["a very long number"]),
        ("beats = 0x" + "f" * 9000, "beats", ["a very long number"]),
        ("on = 1", "on", ["true or false"]),
        ('title = ""', "title", ["text in quotes, length from 1 to 20"]),
        (f'title = "{"x" * 500}"', "title", ["…"]),
        ("title = {a = 1}", "title", ["a table"]),
        ("even = 3", "even", ["an even number", "Take the next."]),
        ("even = 8", "even", ["not eight"]),
        ("even = -1", "even", ["a whole number from 0 up"]),
        ("size = 3", "size", ["1, 2, 4"]),
        ("size = true", "size", ["True"]),
        ("size = 1.0", "size", ["1.0"]),
        ("cue = 1", "cue", ["a list of tables, each written [[cue]]"]),
        ("cue = [1]", "cue", ["a table, written [[cue]]"]),
        ("room = 1", "room", ["a table, written [room]"]),
    ],
)
def test_a_wrong_value_is_named_and_falls_back_alone(line: str, key: str, words: list[str]):
    found = checked(f"# first\n\n{line}\n")
    (problem,) = found.problems
    assert (problem.source, problem.line, problem.key) == ("test.toml", 3, key)
    assert problem.text.startswith(f"test.toml, line 3: {key} ")
    assert [word for word in words if word not in problem.text] == []
    assert len(problem.text) < 300
    values = {name: value for name, value in found.values.items() if name != "room"}
    assert values == {name: value for name, value in DEFAULTS.items() if name != "room"}


def test_an_unknown_key_names_the_nearest():
    found = checked('tonik = "C"\nroom = {name = "a", rt61 = 2}\nzzz = 1\n')
    assert [(each.line, each.key) for each in found.problems] == [(1, "tonik"), (2, "room.rt61"), (3, "zzz")]
    assert "Did you mean tonic?" in found.problems[0].text
    assert "the keys here are rt60, name." in found.problems[1].text
    assert "Remove it." in found.problems[2].text


def test_an_element_without_a_required_entry_is_left_out():
    found = checked('[[cue]]\nkey = "a"\n[[cue]]\nat = "soon"\n[[cue]]\nat = 3\nkey = 4\n')
    assert found.values["cue"] == ({"line": 5, "at": 3.0, "key": None},)
    assert [(each.line, each.key) for each in found.problems] == [(1, "cue.at"), (4, "cue.at"), (7, "cue.key")]
    assert "(nothing)" in found.problems[0].text


def test_required_sections():
    table = (Section("a", (Entry("x", int, default=1),), required=True), Section("b", (), many=True, required=True))
    found = check("", "s", table)
    assert [each.key for each in found.problems] == ["a", "b"]
    assert found.values == {"a": {"line": 1, "x": 1}, "b": ()}
    assert check("[a]\n[[b]]", "s", table).problems == ()


def test_sections_within_absent_sections_have_defaults():
    table = (Section("a", (Section("b", (Entry("x", int, required=True, default=2),)),)),)
    assert check("", "s", table) == Checked({"a": {"line": 1, "b": {"line": 1, "x": 2}}}, ())


@pytest.mark.parametrize(
    ("broken", "line"),
    [
        ("tonic C", 2),
        ("tonic = C", 2),
        ('tonic = "C', 2),
        ("tonic = [1, 2", 3),
        ('tonic = """C', 2),
        ("= 1", 2),
        ("beats = 2\nbeats = 3", 3),
        ("# \x00", 2),
        ("tonic = " + "[" * 5000, 2),
        ("tonic = " + "9" * 5000, 2),
        ("tonic = [\n  1,\n  x,\n]", 4),
        ("a.b = 1\na = 2", 3),
    ],
)
def test_a_broken_statement_is_named_and_the_rest_counts(broken: str, line: int):
    found = checked(f"a4 = 441\n{broken}\non = true\n")
    problem = next(each for each in found.problems if "this is not TOML" in each.text)
    assert problem.line == line
    assert (found.values["a4"], found.values["on"]) == (441.0, True)
    assert sum("this is not TOML" in each.text for each in found.problems) == 1


def test_what_stands_under_a_broken_header_is_not_taken_for_something_else():
    found = checked('a4 = 441\n[[cue\nat = 1\nkey = "x"\n[[cue]]\nat = 2\n[room]\nname = "b"\n[room]\nrt60 = 3\n')
    assert found.values["cue"] == ({"line": 5, "at": 2.0, "key": None},)
    assert found.values["room"]["rt60"] == 0.8
    assert [each.line for each in found.problems] == [2, 9]


def test_a_file_that_is_no_toml_at_all_ends():
    found = checked("\n".join(f"line {number}" for number in range(200)))
    assert found.values == DEFAULTS
    assert len(found.problems) == 40
    assert checked("\r").problems[0].line == 1


ANY = st.text(st.sampled_from("ab=[]{}\"'#\\\n\r ,.1e-:\x00"), max_size=60) | st.text(max_size=40)
PIECES = st.lists(
    st.sampled_from(
        ["tonic", "a4", "room", "cue", "at", "[", "]", "=", '"', "'", "\n", "1", "true", ".", "{", "}", " "]
    ),
    max_size=25,
).map("".join)


@given(ANY | PIECES)
@settings(max_examples=300, deadline=None)
def test_no_text_raises_and_every_key_is_there(text: str):
    found = checked(text)
    assert set(found.values) == set(DEFAULTS)
    assert all(each.text and 1 <= each.line <= text.count("\n") + 1 for each in found.problems)


@given(st.binary(max_size=60))
@settings(max_examples=200, deadline=None)
def test_any_bytes_are_decoded(data: bytes):
    text, problems = decode(data, "bytes.toml")
    checked(text)
    assert bool(problems) == ("�" in text and b"\xef\xbf\xbd" not in data) or data[:2] in (b"\xff\xfe", b"\xfe\xff")


def test_bytes_that_are_not_text_name_their_line():
    text, (problem,) = decode(b"a = 1\nb = '\xff'\n", "bytes.toml")
    assert text == "a = 1\nb = '\N{REPLACEMENT CHARACTER}'\n"
    assert problem.line == 2
    assert "UTF-8" in problem.text


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_byte_order_marks_are_no_part_of_the_text(encoding: str):
    assert decode('tonic = "B♭"'.encode(encoding), "x") == ('tonic = "B♭"', ())
