"""Scores against music21 (an open library, its corpus): keys at concert pitch, meters, tempos, the order of playing.

The corpus that comes with music21 holds 654 files in MusicXML. All of them are compared by the `long` tests, a sample
by the default suite: part by part every key with its place, every meter with its place, every tempo in figures, and the
bars in the order of playing wherever music21 can tell it. Where we differ, a table says why, and a difference that is
not in the table, or no longer there, fails.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any, Final

import music21
import pytest

from firmware.plan.midi_file import read_midi
from firmware.plan.midi_score import score_of_midi
from firmware.plan.musicxml import read_musicxml
from firmware.plan.score import Score
from firmware.plan.score_order import played
from firmware.plan.score_plan import plan_of_score, tonic_of
from firmware.plan.tempo_words import TERMS, plain, tempo_of

CORPUS: Final = Path(music21.__file__).parent / "corpus"
FILES: Final = tuple(
    path.relative_to(CORPUS).as_posix()
    for path in sorted(CORPUS.rglob("*"))
    if path.suffix in {".mxl", ".xml", ".musicxml"}
)
SAMPLE: Final = (
    "bach/bwv269.mxl",
    "bach/bwv66.6.mxl",
    "bach/bwv137.5.mxl",
    "handel/rinaldo/Lascia_chio_pianga.mxl",
    "joplin/maple_leaf_rag.mxl",
    "mozart/k80/movement3.mxl",
    "schoenberg/opus19/movement6.mxl",
    "schumann_clara/polonaise_op1n3.mxl",
    "trecento/PMFC_06_8-In Verde Prato.xml",
    "webern/webern_dormi_jesu_op_16_no_2.mxl",
)
CHUNKS: Final = 6

NO_SIGN: Final = (
    "the second of two repeats has no sign where it begins: we go back to the end of the first, music21 to bar 1"
)
FINE: Final = "music21 takes the repeats, but not the da capo al fine that the words ask for"
ENDINGS: Final = "music21 plays both endings in each pass"
MOVEMENTS: Final = "several movements in one file: music21 goes back to the first bar of the file, we to the movement's"

ORDER_DIFFERENCES: Final[Mapping[str, str]] = {
    "beethoven/opus18no1/movement3.mxl": NO_SIGN,
    "beethoven/opus18no4.mxl": MOVEMENTS,
    "beethoven/opus59no2/movement3.mxl": ENDINGS,
    "joplin/maple_leaf_rag.mxl": "a first ending without a second: music21 leaves out its repeat",
    "mozart/k156/movement2.mxl": NO_SIGN,
    "mozart/k80/movement1.mxl": NO_SIGN,
    "mozart/k80/movement3.mxl": NO_SIGN,
    "mozart/k80/movement4.mxl": NO_SIGN + "; and it does not take the da capo",
    "schumann_clara/polonaise_op1n1.mxl": FINE + "; and " + NO_SIGN,
    "schumann_clara/polonaise_op1n2.mxl": FINE + "; and " + NO_SIGN,
    "schumann_clara/polonaise_op1n3.mxl": FINE,
    "schumann_clara/polonaise_op1n4.mxl": FINE,
    "schumann_robert/opus41no1/movement2.mxl": NO_SIGN,
    "trecento/PMFC_06_Giovanni-04_De_Come_Dolce_Mente.xml": NO_SIGN,
    "trecento/PMFC_06_Piero_1-All_onbra d_un perlato.xml": NO_SIGN,
    "trecento/PMFC_06_Piero_6a-Quando_laire_comenca.xml": NO_SIGN,
    "trecento/PMFC_23_22-Kyrie Summe Clementissime.xml": NO_SIGN,
}
TEMPO_DIFFERENCES: Final[Mapping[str, str]] = {
    "trecento/PMFC_06_8-In Verde Prato.xml": "after an equation of note values we work out the tempo, music21 does not",
    "webern/webern_dormi_jesu_op_16_no_2.mxl": "the mark says 'ca. 72' in words, in which music21 finds no number",
}

Row = tuple[int, Fraction, Any]


def parsed(name: str) -> music21.stream.Score:
    """Read a file with music21, all parts at concert pitch."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the corpus files' own oddities, about which this test can do nothing
        score = music21.converter.parse(CORPUS / name, format="musicxml", forceSource=True)
        return score.toSoundingPitch()


def parts_of(score: music21.stream.Score) -> list[music21.stream.Part]:
    """Parts as the file has them: of the staves of one player the first."""
    return [part for part in score.parts if "-Staff" not in str(part.id) or str(part.id).endswith("-Staff1")]


def rows(part: music21.stream.Part, kind: type) -> list[Row]:
    """Bar, quarter notes from its beginning, and each object of a kind."""
    return [
        (number, Fraction(found.getOffsetInHierarchy(bar)).limit_denominator(10_000), found)
        for number, bar in enumerate(part.getElementsByClass(music21.stream.Measure))
        for found in bar.recurse().getElementsByClass(kind)
    ]


def keys_there(part: music21.stream.Part) -> list[Row]:
    """Keys of a part as music21 reads them: sharps, and the mode where there is one."""
    found = rows(part, music21.key.KeySignature)
    return [(bar, at, (key.sharps, getattr(key, "mode", None) or "")) for bar, at, key in found]


def tempos_there(score: music21.stream.Score) -> dict[tuple[int, Fraction], float]:
    """Tempos in figures as music21 reads them; of several at a place the first."""
    tempos: dict[tuple[int, Fraction], float] = {}
    for part in score.parts:
        for bar, at, mark in rows(part, music21.tempo.MetronomeMark):
            if mark.getQuarterBPM():
                tempos.setdefault((bar, at), mark.getQuarterBPM())
    return tempos


def order_there(part: music21.stream.Part) -> tuple[int, ...] | None:
    """Bars in the order of playing as music21 expands them; None where it can't or needs not."""
    if not music21.repeat.Expander(part).isExpandable():
        return None
    for number, bar in enumerate(part.getElementsByClass(music21.stream.Measure)):
        bar.editorial.place = number
    expanded = music21.repeat.Expander(part).process()
    return tuple(bar.editorial.place for bar in expanded.getElementsByClass(music21.stream.Measure))


def compared(name: str) -> tuple[Score, dict[str, object]]:
    """Compare one file; what is said to differ."""
    ours = read_musicxml((CORPUS / name).read_bytes(), name)
    theirs = parsed(name)
    there = parts_of(theirs)
    differs: dict[str, object] = {}
    if len(there) != len(ours.parts):
        differs["parts"] = (len(there), len(ours.parts))
    for part, own in zip(there, ours.parts, strict=False):
        keys = [(key.place.bar, key.place.offset, (key.fifths, key.mode)) for key in own.keys]
        if keys != keys_there(part):
            differs[f"keys of {own.name}"] = (keys, keys_there(part))
        meters = [(meter.place.bar, meter.place.offset, meter.text) for meter in own.meters]
        signatures = [(bar, at, one.ratioString) for bar, at, one in rows(part, music21.meter.TimeSignature)]
        if meters != signatures:
            differs[f"meters of {own.name}"] = (meters, signatures)
    tempos = {(one.place.bar, one.place.offset): one.quarters for one in ours.tempos if not one.by_words}
    if tempos != pytest.approx(tempos_there(theirs), rel=1e-12):
        differs["tempos"] = (tempos, tempos_there(theirs))
    order = order_there(theirs.parts[0])
    if order is not None and order != played(ours.turns):
        differs["order"] = (order, played(ours.turns))
    return ours, differs


def check(name: str) -> None:
    """A file reads the same, or differs in what the tables say and in nothing else."""
    score, differs = compared(name)
    explained = {"order"} & ({"order"} if name in ORDER_DIFFERENCES else set())
    explained |= {"tempos"} if name in TEMPO_DIFFERENCES else set()
    assert set(differs) == explained, (name, differs)
    assert plan_of_score(score, name)[0].steps, name


@pytest.mark.parametrize("name", SAMPLE)
def test_a_sample_of_the_corpus_reads_as_music21_does(name: str) -> None:
    check(name)


@pytest.mark.long
@pytest.mark.timeout(600)
@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_all_of_the_corpus_reads_as_music21_does(chunk: int) -> None:
    assert len(FILES) >= 300
    for name in FILES[chunk::CHUNKS]:
        check(name)


def test_the_tables_name_files_that_there_are() -> None:
    assert set(ORDER_DIFFERENCES) | set(TEMPO_DIFFERENCES) | set(SAMPLE) <= set(FILES)


@pytest.mark.parametrize("name", ["bach/bwv269.mxl", "bach/bwv66.6.mxl"])
def test_the_plan_of_a_chorale_has_its_key(name: str) -> None:
    plan, _ = plan_of_score(read_musicxml((CORPUS / name).read_bytes(), name))
    key = next(iter(parsed(name).recurse().getElementsByClass(music21.key.Key)))
    values = dict(plan.steps[0].values)
    assert (values["tonic"], values["mode"]) == (key.tonic.name.replace("-", "b"), key.mode)


@pytest.mark.parametrize("instrument", ["Clarinet", "AltoSaxophone", "Horn", "Trumpet", "Piccolo", "EnglishHorn"])
def test_written_parts_come_back_at_concert_pitch(instrument: str) -> None:
    """Music21 writes the part as its player reads it, with the transposition, in keys of up to six accidentals."""
    for sharps in range(-6, 7):
        part = music21.stream.Part(
            [getattr(music21.instrument, instrument)(), music21.key.Key(music21.key.KeySignature(sharps).asKey().tonic)]
        )
        part.append(music21.meter.TimeSignature("4/4"))
        part.append(music21.note.Note("C4", quarterLength=4.0))
        score = music21.stream.Score([part])
        score.atSoundingPitch = part.atSoundingPitch = True
        data = music21.musicxml.m21ToXml.GeneralObjectExporter(score).parse()
        ours = read_musicxml(data, f"{instrument}.musicxml")
        tonic = music21.key.KeySignature(sharps).asKey().tonic
        assert tonic_of(ours.keys[0].tonic).semitones == tonic.pitchClass, sharps


@pytest.mark.parametrize("name", ["bach/bwv269.mxl", "schoenberg/opus19/movement6.mxl", "bach/bwv66.6.mxl"])
def test_midi_files_give_keys_meters_and_tempos_as_music21_reads_them(name: str) -> None:
    made = music21.midi.translate.streamToMidiFile(parsed(name))
    data = made.writestr()
    ours = score_of_midi(read_midi(data, "a.mid"), "a.mid")
    theirs = music21.midi.translate.midiFileToStream(music21_file(data))
    keys = {(key.sharps, key.mode) for key in theirs.recurse().getElementsByClass(music21.key.Key)}
    assert {(key.fifths, key.mode) for key in ours.keys} == keys
    meters = theirs.recurse().getElementsByClass(music21.meter.TimeSignature)
    assert {meter.text for meter in ours.meters} == {meter.ratioString for meter in meters}
    marks = theirs.recurse().getElementsByClass(music21.tempo.MetronomeMark)
    tempos = {round(mark.getQuarterBPM(), 2) for mark in marks} or {120.0}
    assert {round(tempo.quarters, 2) for tempo in ours.tempos} == tempos


def music21_file(data: bytes) -> music21.midi.MidiFile:
    """A MIDI file as music21 reads it."""
    file = music21.midi.MidiFile()
    file.openFileLike(io.BytesIO(data))
    file.read()
    return file


def test_tempo_words_stand_for_what_music21_lists() -> None:
    listed = {plain(term): tempo for term, tempo in music21.tempo.defaultTempoValues.items()}
    assert {term: TERMS.get(term) for term in listed} == listed
    for term, tempo in music21.tempo.defaultTempoValues.items():
        assert tempo_of(term.title()) == tempo
