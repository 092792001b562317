"""Markers as WebVTT text; tests/outside/test_takes_webvtt.py reads it by the specification."""

from hypothesis import given
from hypothesis import strategies as st

from firmware.sheet.vtt_reading import read_chapters
from firmware.takes.markers import cue_text, timestamp, vtt_text


def test_times_are_written_with_hours_and_milliseconds():
    assert timestamp(0) == "00:00:00.000"
    assert timestamp(3725.5) == "01:02:05.500"
    assert timestamp(59.9996) == "00:01:00.000"
    assert timestamp(360_000) == "100:00:00.000"
    assert timestamp(-3) == "00:00:00.000"


def test_titles_become_one_harmless_line():
    assert cue_text("Bach & <b>\n--> end\0") == "Bach &amp; &lt;b&gt; --&gt; end\ufffd"
    assert cue_text("\ud800") == "?"


def test_each_marker_lasts_until_the_next_and_the_last_until_the_end():
    assert vtt_text([(5.0, "B"), (1.0, "A")], 9.0) == (
        "WEBVTT\n\n1\n00:00:01.000 --> 00:00:05.000\nA\n\n2\n00:00:05.000 --> 00:00:09.000\nB\n"
    )


def test_a_marker_without_a_title_is_called_by_its_number():
    assert vtt_text([(0.0, "  ")], 2.0).endswith("\nMarker 1\n")


def test_markers_outside_of_the_take_lie_at_its_edges():
    text = vtt_text([(-1.0, "early"), (99.0, "late")], 2.0)
    assert "00:00:00.000 --> 00:00:01.999\nearly" in text
    assert "00:00:01.999 --> 00:00:02.000\nlate" in text


def test_no_marker_leaves_the_header():
    assert vtt_text([], 5.0) == "WEBVTT\n"


ODD = st.one_of(
    st.text(max_size=30),
    st.sampled_from(
        ("NOTE", "STYLE", "WEBVTT", "a --> b", "00:01.000 --> 00:02.000", "&lt;b&gt;", "<v Ann>", "1", "\u2028")
    ),
)


@given(st.lists(st.tuples(st.integers(0, 3_599_000), ODD), max_size=8, unique_by=lambda marker: marker[0]))
def test_any_titles_come_back_as_they_were_but_for_spaces(markers: list[tuple[int, str]]) -> None:
    read = read_chapters(vtt_text([(at / 1000, title) for at, title in markers], 3600.0))
    wanted = []
    for number, (at, title) in enumerate(sorted(markers), start=1):
        plain = title.replace("\0", "\ufffd").encode("utf-8", "replace").decode("utf-8")
        wanted.append((at / 1000, " ".join(plain.split()) or f"Marker {number}"))
    assert read.unread == 0
    assert [(round(at, 3), title) for at, title in read.markers] == wanted
