"""The line finder agrees with texts whose lines are known, and takes any text."""

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firmware.plan.toml_lines import line_of, line_table, statements

TEXT = """\
# [not.a.table]
title = "a # b"  # comment
"quoted = key" = 'it is'
first.second = [1, [2, "]"], # ]
  {x = 1}, {y = "}"},

  4]
long = \"\"\"
[fake]
fake = 1 \\"\"\"
\"\"\"\"\"

[room]
rt60 = 0.8
[[cue]]
at = 1
[cue.inner]
deep = '''
[[cue]]'''
[[cue]]
at = 2
  [[cue.part]]
  name = "x"
  [[cue.part]]
[ "odd \\u0041" . b ]
c = 3
"""
LINES = {
    (): 1,
    ("title",): 2,
    ("quoted = key",): 3,
    ("first",): 4,
    ("first", "second"): 4,
    ("first", "second", 0): 4,
    ("first", "second", 1): 4,
    ("first", "second", 2): 5,
    ("first", "second", 3): 5,
    ("first", "second", 4): 7,
    ("long",): 8,
    ("room",): 13,
    ("room", "rt60"): 14,
    ("cue",): 15,
    ("cue", 0): 15,
    ("cue", 0, "at"): 16,
    ("cue", 0, "inner"): 17,
    ("cue", 0, "inner", "deep"): 18,
    ("cue", 1): 20,
    ("cue", 1, "at"): 21,
    ("cue", 1, "part"): 22,
    ("cue", 1, "part", 0): 22,
    ("cue", 1, "part", 0, "name"): 23,
    ("cue", 1, "part", 1): 24,
    ("odd A",): 25,
    ("odd A", "b"): 25,
    ("odd A", "b", "c"): 26,
}


def test_every_kind_of_statement_is_on_its_line():
    tomllib.loads(TEXT)  # the example is TOML
    assert line_table(TEXT) == LINES


def test_windows_line_ends_count_once():
    assert line_table("a = 1\r\nb = 2\r\n")[("b",)] == 2


def test_a_path_that_is_not_listed_is_found_around():
    lines = line_table("\na = [\n{b = 1},\n{c = 2}]\n")
    assert line_of(lines, ("a", 1, "c")) == 4
    assert line_of(lines, ("z", "y")) == 1


KEYS = st.text("abAZ09-_", min_size=1, max_size=4) | st.sampled_from(['"x y"', "'#'", '"a.b"', '"\\""', "'='"])
VALUES = st.sampled_from(
    [
        "1",
        "-2.5e3",
        "true",
        "1979-05-27",
        '"# no comment"',
        "'[x]'",
        '""',
        "''",
        '"\\"quoted\\\\"',
        "[1, 2]",
        "[\n 1, # ]\n [2, 3],\n]",
        '{a = 1, "b#" = [2]}',
        '"""\n[x]\n= 1"""',
        "'''\n\n# '' '''",
        '""""two before the end"""""',
        "''''one''''",
        '["""\n\n""", "a"]',
        "[]",
    ]
)
SPACE = st.sampled_from(["", "\n", "# [c]\n", "\n  \t\n", "#'''\n"])


@st.composite
def documents(draw: st.DrawFn) -> tuple[str, dict[tuple[str | int, ...], int]]:
    """Draw a text of tables with single keys, and the line of each."""
    text, lines, counts = "", {(): 1}, {}
    tables = draw(
        st.lists(st.tuples(st.sampled_from(["", "[t{}]", "[[l{}]]"]), st.lists(KEYS, unique=True)), max_size=4)
    )
    for number, (form, keys) in enumerate(tables):
        text += draw(SPACE)
        path: tuple[str | int, ...] = ()
        if form and number:
            name = form.format(number if form[1] == "t" else "").strip("[]")
            line = text.count("\n") + 1
            path = (name,)
            lines.setdefault(path, line)
            if form[1] == "[":
                counts[name] = counts.get(name, -1) + 1
                path = (name, counts[name])
            lines[path] = line
            text += f"[[{name}]]\n" if form[1] == "[" else f"[{name}]\n"
        elif number:
            continue
        for key in keys:
            text += draw(SPACE)
            plain = next(iter(tomllib.loads(f"{key} = 0")))
            if (*path, plain) in lines:
                continue
            lines[(*path, plain)] = text.count("\n") + 1
            text += f"{key} = {draw(VALUES)}{draw(st.sampled_from(['', ' # x = [', '   ']))}\n"
    return text, lines


@given(documents())
@settings(max_examples=150, deadline=None)
def test_lines_of_generated_documents(document: tuple[str, dict[tuple[str | int, ...], int]]):
    text, lines = document
    tomllib.loads(text)
    found = line_table(text)
    assert {path: line for path, line in found.items() if path in lines} == lines
    assert all(isinstance(path[-1], int) for path in found if path not in lines)


@given(st.text(st.sampled_from("a=[]{}\"'#\\\n\r ,.1"), max_size=60) | st.text(max_size=30))
@settings(max_examples=300, deadline=None)
def test_any_text_is_scanned_to_its_end(text: str):
    found = list(statements(text))
    last = text.replace("\r\n", "\n").count("\n") + 1
    assert all(1 <= each.first <= each.last <= last for each in found)
    assert line_table(text)[()] == 1


@pytest.mark.parametrize("text", ['a = "open', "a = 'open\n", 'a = """open\n\n', "a = [1, 2\n", "a = '''x''"])
def test_what_is_never_closed_is_marked(text: str):
    assert [each.closed for each in statements(text)] == [False]
