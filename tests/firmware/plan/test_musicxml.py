"""MusicXML: keys at concert pitch, meters, tempos, marks, lengths, signs of repetition; anything else is refused."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firmware.errors import BadFileError
from firmware.plan.musicxml import MOST_PARTS, read_musicxml
from firmware.plan.musicxml_direction import Direction, believed
from firmware.plan.musicxml_gather import Found, score_of
from firmware.plan.musicxml_part import PartReader, meter_text, number_of, whole_of
from firmware.plan.musicxml_signs import MOST_PASSES
from firmware.plan.score import Place, Score, ScoreKey, ScoreTempo, on_the_line
from firmware.plan.score_plan import plan_of_score

Make = Callable[..., bytes]
NOTE = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>{}</duration></note>"


def read(data: bytes) -> Score:
    return read_musicxml(data, "hymn.musicxml")


def attributes(key: str = "", time: str = "", transpose: str = "", divisions: int = 1, sign: str = "G") -> str:
    if key:
        fifths, _, mode = key.partition(" ")
        key = f"<key><fifths>{fifths}</fifths>" + (f"<mode>{mode}</mode>" if mode else "") + "</key>"
    if time:
        pairs = (pair.split("/") for pair in time.split(" "))
        time = "".join(f"<beats>{top}</beats><beat-type>{under}</beat-type>" for top, under in pairs)
        time = f"<time>{time}</time>"
    clef = f"<clef><sign>{sign}</sign></clef>"
    return f"<attributes><divisions>{divisions}</divisions>{key}{time}{clef}{transpose}</attributes>"


def transposing(chromatic: int, diatonic: int | None = None) -> str:
    steps = "" if diatonic is None else f"<diatonic>{diatonic}</diatonic>"
    return f"<transpose>{steps}<chromatic>{chromatic}</chromatic></transpose>"


def direction(*inner: str, after: str = "") -> str:
    types = "".join(f"<direction-type>{one}</direction-type>" for one in inner)
    return f"<direction>{types}{after}</direction>"


def metronome(unit: str, per_minute: str, dots: int = 0) -> str:
    value = f"<beat-unit>{unit}</beat-unit>{'<beat-unit-dot/>' * dots}"
    return f"<metronome>{value}<per-minute>{per_minute}</per-minute></metronome>"


# Written keys of common transposing parts that all sound in E flat major: common practice, any band's score.
BAND = [
    ("flute", "-3 major", ""),
    ("clarinet in B♭", "-1 major", transposing(-2, -1)),
    ("alto saxophone in E♭", "0 major", transposing(-9, -5)),
    ("tenor saxophone in B♭, an octave lower", "-1 major", transposing(-14, -8)),
    ("horn in F", "-2 major", transposing(-7, -4)),
    ("clarinet in E♭", "0 major", transposing(3, 2)),
    ("clarinet in A", "-6 major", transposing(-3, -2)),
    ("trumpet in B♭ without letters", "-1 major", transposing(-2)),
    ("clarinet in A without letters", "-6 major", transposing(-3)),
    ("piccolo, an octave higher", "-3 major", transposing(12, 7)),
]


@pytest.mark.parametrize(("name", "written", "transpose"), BAND)
def test_keys_are_at_concert_pitch(score_xml: Make, name: str, written: str, transpose: str) -> None:
    score = read(score_xml([attributes(written, "4/4", transpose)]))
    assert [(key.tonic.text, key.mode) for key in score.keys] == [("E♭", "major")], name


def test_most_parts_decide_the_key_and_percussion_has_none(score_xml: Make) -> None:
    flute, horn = attributes("-3 major"), attributes("0", transpose=transposing(-7, -4))
    clarinet, drum = attributes("-1 major", transpose=transposing(-2, -1)), attributes("0", sign="percussion")
    score = read(score_xml([drum], [horn], [flute], [clarinet]))
    assert score.keys == (ScoreKey(Place(0), -3, "major"),)
    assert [part.unpitched for part in score.parts] == [True, False, False, False]
    assert [part.keys[0].fifths for part in score.parts] == [0, -1, -3, -3]
    assert read(score_xml([drum])).keys == (ScoreKey(Place(0), 0, ""),)


def test_keys_change_within_a_bar_and_a_missing_mode_is_told_apart(score_xml: Make) -> None:
    changed = NOTE.format(2) + attributes("1 minor") + NOTE.format(2)
    score = read(score_xml([attributes("2"), changed, attributes("1 minor")]))
    assert score.keys == (ScoreKey(Place(0), 2, ""), ScoreKey(Place(1, Fraction(2)), 1, "minor"))
    assert [key.tonic.text for key in score.keys] == ["D", "E"]


@pytest.mark.parametrize(
    ("fifths", "mode", "tonic"),
    [(0, "dorian", "D"), (-1, "Aeolian", "D"), (4, "lydian", "A"), (3, "minor", "F♯"), (0, "none", "C"), (0, "x", "C")],
)
def test_modes_of_signatures(score_xml: Make, fifths: int, mode: str, tonic: str) -> None:
    assert read(score_xml([attributes(f"{fifths} {mode}")])).keys[0].tonic.text == tonic


def test_names_on_the_line_of_fifths() -> None:
    assert [on_the_line(fifths).text for fifths in (-7, -2, -1, 0, 1, 6, 7)] == ["C♭", "B♭", "F", "C", "G", "F♯", "C♯"]


@pytest.mark.parametrize(
    ("time", "text"),
    [("4/4", "4/4"), ("6/8", "6/8"), ("3+2/8", "3+2/8"), ("2/4 3/8", "4+3/8"), ("2 + 3/4", "2+3/4")],
)
def test_meters(score_xml: Make, time: str, text: str) -> None:
    pairs = time if time.count("/") > 1 else time.replace(" ", "")
    assert [meter.text for meter in read(score_xml([attributes(time=pairs)])).meters] == [text]


def test_meters_that_can_not_be_beaten_are_left_out_with_a_remark(score_xml: Make) -> None:
    for time in ("4/4 3/0", "5/64", "x/4", "99/4"):
        score = read(score_xml([attributes(time=time)]))
        assert score.meters == ()
        assert "is left out" in score.remarks[0]
    free = "<attributes><divisions>1</divisions><time><senza-misura/></time></attributes>"
    assert read(score_xml([free])).meters[0].text == ""
    assert meter_text([]) == ""


def test_an_interchangeable_meter_is_the_first_of_the_two(score_xml: Make) -> None:
    both = "<interchangeable><beats>6</beats><beat-type>8</beat-type></interchangeable>"
    time = f"<time><beats>3</beats><beat-type>4</beat-type>{both}</time>"
    score = read(score_xml([f"<attributes><divisions>1</divisions>{time}</attributes>"]))
    assert [meter.text for meter in score.meters] == ["3/4"]


@pytest.mark.parametrize(
    ("inner", "quarters", "by_words"),
    [
        (direction(metronome("quarter", "92")), 92.0, False),
        (direction(metronome("half", "60")), 120.0, False),
        (direction(metronome("quarter", "60", dots=1)), 90.0, False),
        (direction(metronome("quarter", "64", dots=2)), 112.0, False),
        (direction(metronome("eighth", "c. 72.5")), 36.25, False),
        (direction(metronome("quarter", "100-120")), 110.0, False),
        (direction(metronome("quarter", "as before"), after='<sound tempo="88"/>'), 88.0, False),
        (direction(metronome("quarter", "92"), after='<sound tempo="90"/>'), 92.0, False),
        (direction("<words>Allegro</words>", after='<sound tempo="100"/>'), 100.0, False),
        (direction("<words>Allegro ma non troppo</words>"), 132.0, True),
        ('<sound tempo="76"/>', 76.0, False),
    ],
)
def test_tempos(score_xml: Make, inner: str, quarters: float, *, by_words: bool) -> None:
    (tempo,) = read(score_xml([attributes(time="4/4") + inner])).tempos
    assert (tempo.place, tempo.quarters, tempo.by_words) == (Place(0), quarters, by_words)


@pytest.mark.parametrize(
    "inner",
    [
        direction("<words>dolce</words>"),
        direction("<words>più lento</words>"),
        direction(metronome("quarter", "many")),
        direction(metronome("quarter", "0")),
        '<sound tempo="0"/>',
        '<sound tempo="1e9"/>',
        '<sound tempo="quick"/>',
        '<sound dynamics="80"/>',
    ],
)
def test_what_gives_no_tempo(score_xml: Make, inner: str) -> None:
    assert read(score_xml([attributes(time="4/4") + inner])).tempos == ()


def test_the_first_tempo_comes_back_and_note_values_are_set_equal(score_xml: Make) -> None:
    equal = "<metronome><beat-unit>quarter</beat-unit><beat-unit>quarter</beat-unit><beat-unit-dot/></metronome>"
    bars = [
        direction(metronome("quarter", "80")),
        direction("<words>Adagio</words>"),
        direction("<words>Tempo primo</words>"),
        direction(equal),
    ]
    assert [tempo.quarters for tempo in read(score_xml(bars)).tempos] == [80.0, 56.0, 80.0, 120.0]


def test_directions_stand_where_their_offset_says(score_xml: Make) -> None:
    inner = attributes(divisions=2) + NOTE.format(4) + direction("<words>Presto</words>", after="<offset>-2</offset>")
    harmony = "<harmony><offset>7</offset></harmony>"
    score = read(score_xml([inner + harmony + NOTE.format(4)]))
    assert score.tempos == (ScoreTempo(Place(0, Fraction(1)), 184.0, "Presto", by_words=True),)


def test_rehearsal_marks_are_taken_once(score_xml: Make) -> None:
    mark = direction("<rehearsal> A </rehearsal>")
    score = read(score_xml(["", mark], ["", mark + direction("<rehearsal></rehearsal>")]))
    assert [(mark.place, mark.text) for mark in score.marks] == [(Place(1), "A")]


def test_lengths_of_bars(score_xml: Make) -> None:
    chord = NOTE.format(1) + NOTE.format(1).replace("<note>", "<note><chord/>")
    grace = "<note><grace/><pitch><step>C</step><octave>4</octave></pitch></note>"
    backed = NOTE.format(4) + "<backup><duration>4</duration></backup>" + NOTE.format(2) + "<note><rest/></note>"
    forward = NOTE.format(1) + "<forward><duration>2</duration></forward>"
    figured = "<figured-bass><duration>9</duration></figured-bass>"
    wild = "<backup><duration>99</duration></backup>" + NOTE.format("x") + NOTE.format(3)
    score = read(score_xml([attributes(time="4/4") + chord, grace + backed, figured + forward, wild]))
    assert [bar.length for bar in score.bars] == [1, 4, 3, 3]
    assert [bar.number for bar in score.bars] == ["1", "2", "3", "4"]


def test_divisions_may_change_within_a_bar(score_xml: Make) -> None:
    inner = attributes(divisions=2) + NOTE.format(4) + attributes(divisions=3) + NOTE.format(3) + NOTE.format(1)
    score = read(score_xml([inner]))
    assert score.bars[0].length == Fraction(10, 3)


def test_an_empty_bar_is_as_long_as_its_meter(score_xml: Make) -> None:
    score = read(score_xml([attributes(time="3/4") + "<note><rest/></note>"]))
    assert score.bars[0].length == 3


def test_signs_of_repetition(score_xml: Make) -> None:
    forward = '<barline location="left"><repeat direction="forward"/></barline>'
    first = '<barline location="left"><ending number="1, 2" type="start"/></barline>'
    back = '<barline><ending number="1, 2" type="stop"/><repeat direction="backward" times="3"/></barline>'
    last = '<barline location="left"><ending number="3." type="start"/></barline>'
    end = '<barline><bar-style>light-heavy</bar-style><ending number="3" type="discontinue"/></barline>'
    signs = direction("<segno/>") + '<barline><coda/></barline><sound tocoda="x" fine="yes"/>'
    turns = read(score_xml([forward + signs, first, back, last + end, direction("<words>D.C. al Fine</words>")])).turns
    assert [turn.endings for turn in turns] == [(), (1, 2), (1, 2), (3,), ()]
    assert (turns[0].forward, turns[0].segno, turns[0].coda, turns[0].to_coda, turns[0].fine) == (True,) * 5
    assert (turns[2].backward, turns[3].ending_begins, turns[3].final) == (3, True, True)
    assert (turns[4].da_capo, turns[4].fine) == (True, False)


def test_an_ending_reaches_to_its_repeat_even_if_its_bracket_does_not(score_xml: Make) -> None:
    first = '<barline><ending number="1" type="start"/></barline><barline><ending number="1" type="stop"/></barline>'
    back = '<barline><repeat direction="backward"/></barline>'
    last = '<barline><ending number="2" type="start"/></barline>'
    assert [turn.endings for turn in read(score_xml([first, "", back, last])).turns] == [(1,), (1,), (1,), (2,)]
    assert [turn.endings for turn in read(score_xml([first, "", back, ""])).turns] == [(1,), (), (), ()]


def test_titles(score_xml: Make) -> None:
    work = "<work><work-title>Ferry\n Hymn</work-title></work>"
    credit = "<credit><credit-type>title</credit-type><credit-words>Quay March</credit-words></credit>"
    other = "<credit><credit-type>subtitle</credit-type><credit-words>for band</credit-words></credit>"
    assert read(score_xml([""], head=work)).title == "Ferry Hymn"
    assert read(score_xml([""], head=work + "<movement-title>II</movement-title>")).title == "II"
    assert read(score_xml([""], head=other + credit)).title == "Quay March"
    assert read(score_xml([""])).title == ""


def test_a_score_by_measures_reads_the_same(score_xml: Make) -> None:
    first, second = attributes("2 major", "3/4") + NOTE.format(3), direction("<words>Presto</words>") + NOTE.format(3)
    by_parts = read(score_xml([first, second], [NOTE.format(2), NOTE.format(3)]))
    bars = (
        f'<measure number="{number}"><part id="P1">{one}</part><part id="P2">{NOTE.format(long)}</part></measure>'
        for number, one, long in ((1, first, 2), (2, second, 3))
    )
    names = "".join(f'<score-part id="P{n}"><part-name>Part {n}</part-name></score-part>' for n in (1, 2))
    text = f"<score-timewise><part-list>{names}</part-list>{''.join(bars)}</score-timewise>"
    assert read(text.encode()) == by_parts


def test_any_encoding_that_xml_names(score_xml: Make) -> None:
    text = score_xml([""], head="<movement-title>Frühlingslied</movement-title>").decode()
    assert read(text.encode()).title == "Frühlingslied"
    assert read(text.replace("UTF-8", "UTF-16").encode("utf-16")).title == "Frühlingslied"
    assert read(text.replace("UTF-8", "ISO-8859-1").encode("latin-1")).title == "Frühlingslied"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "no element found"),
        (b"<svg/>", "a MusicXML score"),
        (b"<score-partwise><part-list/></score-partwise>", "at least one measure"),
        (b"<score-partwise>", "no element found"),
        (b"title = 3", "well-formed XML"),
        (b"\x00\xff\xfe", "well-formed XML"),
        (b'<?xml version="1.0" encoding="klingon"?><a/>', "XML"),
        (b'<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>', "defines nothing of its own"),
        (b"<a>" * 200, "deep in each other"),
    ],
)
def test_what_is_no_score_is_refused_with_its_line(data: bytes, words: str) -> None:
    with pytest.raises(BadFileError, match=words) as caught:
        read(data)
    assert caught.value.text.startswith("hymn.musicxml, line 1")


def test_too_many_parts_and_bars_are_refused(score_xml: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(BadFileError, match=f"at most {MOST_PARTS} parts"):
        read(score_xml(*[[""]] * (MOST_PARTS + 1)))
    monkeypatch.setattr("firmware.plan.musicxml.MOST_BARS", 3)
    with pytest.raises(BadFileError, match="at most 3 measures"):
        read(score_xml([""] * 4))
    monkeypatch.setattr("firmware.plan.musicxml.MOST_FINDS", 3)
    with pytest.raises(BadFileError, match="at most 3 tempo marks"):
        read(score_xml([direction("<words>Presto</words>") * 4, ""]))


def test_a_repeat_is_taken_so_many_times_and_no_more(score_xml: Make) -> None:
    for times, passes in (("3", 3), ("1", 2), ("999", MOST_PASSES), ("often", 2)):
        bar = f'<barline><repeat direction="backward" times="{times}"/></barline>'
        assert read(score_xml([bar])).turns[0].backward == passes


def test_numbers_of_monstrous_length_are_no_numbers() -> None:
    assert number_of("2.5") == Fraction(5, 2)
    assert [number_of(text) for text in ("1e999999999", "9" * 400, "", "1/3", "0x1", "٣")] == [None] * 6
    assert (whole_of("-3"), whole_of("2.5"), whole_of("")) == (-3, None, None)


def test_a_dot_without_a_note_value_and_tempos_that_nobody_plays() -> None:
    said = Direction()
    said.dot()
    assert (said.units, said.quarters, said.equation, said.turns) == ([], None, None, frozenset())
    assert [believed(tempo) for tempo in (4.0, 5.0, 1000.0, 1001.0)] == [None, 5.0, 1000.0, None]


def test_parts_of_different_length() -> None:
    long, short = PartReader("long"), PartReader("short")
    for reader, bars in ((long, 3), (short, 1)):
        for bar in range(bars):
            reader.begin_bar(str(bar))
            reader.move(Fraction(2))
            reader.end_bar()
    score = score_of("", (short, long), Found())
    assert [(bar.number, bar.length) for bar in score.bars] == [("0", 2), ("1", 2), ("2", 2)]


PIECES = st.sampled_from(
    [
        *("<part id='P1'>", "</part>", "<measure>", "</measure>", "<attributes>", "</attributes>", "<key>", "</key>"),
        *("<fifths>3</fifths>", "<fifths>-99</fifths>", "<mode>minor</mode>", "<time>", "</time>", "<beats>3</beats>"),
        *("<beat-type>8</beat-type>", "<note>", "</note>", "<duration>3</duration>", "<duration>-9</duration>"),
        *("<direction>", "</direction>", "<sound tempo='90' dacapo='yes'/>", "<barline>", "</barline>", "<segno/>"),
        *("<repeat direction='backward'/>", "<repeat direction='forward'/>", "<ending number='1' type='start'/>"),
        *("<ending number='2' type='stop'/>", "<words>Allegro</words>", "<rehearsal>A</rehearsal>", "<chord/>"),
        *("<transpose>", "</transpose>", "<chromatic>-2</chromatic>", "<divisions>0</divisions>", "<metronome>"),
        *("</metronome>", "<beat-unit>half</beat-unit>", "<beat-unit-dot/>", "<per-minute>9</per-minute>"),
    ]
)


def balanced(pieces: list[str]) -> bytes:
    """A well-formed document of some pieces: what is closed without being open is left out, the rest closed at last."""
    out: list[str] = []
    still_open: list[str] = []
    for piece in pieces:
        name = piece.strip("</>").split()[0]
        if piece.startswith("</"):
            while still_open and name in still_open:
                closed = still_open.pop()
                out.append(f"</{closed}>")
                if closed == name:
                    break
        else:
            out.append(piece)
            if not piece.endswith("/>") and "</" not in piece:
                still_open.append(name)
    out += [f"</{name}>" for name in reversed(still_open)]
    return f"<score-partwise><part id='P0'><measure>{''.join(out)}</measure></part></score-partwise>".encode()


@given(st.lists(PIECES, max_size=40).map(balanced))
def test_any_elements_in_any_order_are_planned_or_refused(data: bytes) -> None:
    refused = ""
    try:
        assert plan_of_score(read(data))[0].steps
    except BadFileError as error:
        refused = error.text
    assert "at least one measure" in refused or not refused


@given(st.binary(max_size=200) | st.text(alphabet="<>/&;!ENTITYa\"'=[]", max_size=60).map(str.encode))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    with pytest.raises(BadFileError):
        read(data)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])  # it only holds a function
@given(data=st.data())
def test_a_damaged_score_is_read_or_refused(score_xml: Make, data: st.DataObject) -> None:
    whole = bytearray(score_xml([attributes("-3 major", "4/4") + direction("<words>Presto</words>"), ""]))
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(whole) - 1))
        whole[at : at + data.draw(st.integers(0, 9))] = data.draw(st.binary(max_size=4))
    refused = ""
    try:
        assert plan_of_score(read(bytes(whole)))[0].steps
    except BadFileError as error:
        refused = error.text
    assert "hymn.musicxml" in refused or not refused
