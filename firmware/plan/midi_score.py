"""A Standard MIDI File as a score: bars, meters, tempos and key signatures, without marks and repeats."""

from __future__ import annotations

from fractions import Fraction

from firmware.plan.midi_file import DEFAULT_TEMPO, MidiFile
from firmware.plan.midi_rhythm import bars_of, whole_notes
from firmware.plan.score import Place, Score, ScoreBar, ScoreKey, ScoreMeter, ScorePart, ScoreTempo, Turn


def score_of_midi(midi: MidiFile, source: str) -> Score:
    """Make a score of a MIDI file.

    Raises
    ------
    BadFileError
        If it has too many bars.
    """
    bars, count = bars_of(midi, source)
    count = max(count, 1)

    def place(tick: int) -> Place:
        at = whole_notes(midi, tick)
        bar = min(bars.number_at(at), count)
        return Place(bar - 1, 4 * (at - bars.bar(bar)[0]))

    meters: list[ScoreMeter] = []
    lengths: list[Fraction] = []
    for number in range(1, count + 1):
        meter = bars.bar(number)[1]
        lengths.append(4 * meter.length)
        if not meters or meters[-1].text != meter.text:
            meters.append(ScoreMeter(Place(number - 1), meter.text))
    tempos = {0: DEFAULT_TEMPO, **dict(midi.tempos)}
    keys = tuple(ScoreKey(place(tick), fifths, mode) for tick, (fifths, mode) in sorted(dict(midi.keys).items()))
    return Score(
        title=midi.title,
        bars=tuple(ScoreBar(str(number + 1), length) for number, length in enumerate(lengths)),
        keys=keys,
        meters=tuple(meters),
        tempos=tuple(ScoreTempo(place(tick), 60e6 / tempos[tick]) for tick in sorted(tempos)),
        turns=(Turn(),) * count,
        parts=(ScorePart(midi.title, unpitched=False, keys=keys, meters=tuple(meters)),),
    )
