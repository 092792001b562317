"""An invented rehearsal of two hours as the box would leave it: log, table of notes, chapters, earlier figures.

Seven keys, three sections, thirds and sevenths that lie where untrained players put them (equal temperament's third is
13.7 cents over the just one), a pulse that is dragged, chords, takes with markers. The same seed gives the same bytes.
"""

from __future__ import annotations

import random
from dataclasses import dataclass

from firmware.sheet.log_lines import log_line
from firmware.sheet.notes_csv import notes_text
from firmware.sheet.past import Past, PastDrill
from firmware.sheet.reading import Files, read_rehearsal
from firmware.sheet.rehearsal import Rehearsal, TakePart
from firmware.takes.markers import vtt_text

SECONDS = 7200.0
SETTINGS = {
    "a4": 440.0,
    "tuning": "just",
    "timbre": "reed",
    "drone_level": -18.0,
    "pulse_level": -12.0,
    "mic_gain": 12.0,
    "tolerance": 5.0,
    "reading": "concert",
}
KEYS = (("B♭ major", 0), ("E♭ major", 5), ("F major", 7), ("G minor", 9), ("B♭ major", 0), ("A♭ major", 10))
MAJOR = (("1", 0), ("2", 2), ("3", 4), ("4", 5), ("5", 7), ("6", 9), ("7", 11))
MINOR = (("1", 0), ("2", 2), ("♭3", 3), ("4", 5), ("5", 7), ("♭6", 8), ("♭7", 10))
OFF = {"1": 0.5, "2": 2.0, "3": 11.0, "♭3": -9.0, "4": -2.5, "5": 1.0, "♭6": -8.0, "6": 9.0, "♭7": -6.0, "7": 8.0}
"""Cents that players are off before they listen."""

SECTIONS = (("concert", 0, 0.0), ("clarinet", 2, 2.5), ("horn", 7, -1.5), ("trumpet", 2, 1.0))
"""Instrument, semitones from sounding to written, and how sharp that section plays."""

NAMES = ("C", "D♭", "D", "E♭", "E", "F", "G♭", "G", "A♭", "A", "B♭", "B")
PIECES = ("Warm-up", "March", "Chorale")
NOTED = ("", "Bar 33 without click", "Thirds in the clarinets; then softer at letter B")
LETTERS = ("Letter A", "Letter B", "Codetta", "Pickup to C", "Letter D", "Last chord", "Again, softer")


@dataclass(frozen=True, slots=True)
class Evening:
    """The files of the rehearsal, and what earlier sheets say."""

    files: Files
    past: tuple[Past, ...]

    @property
    def rehearsal(self) -> Rehearsal:
        """What is read from the files."""
        return read_rehearsal(self.files)


def evening(notes: int = 4000, seed: int = 7) -> Evening:
    """Two hours in which so many notes were held."""
    rng = random.Random(seed)  # noqa: S311 - invented data, no secret
    lines = [(0.0, log_line(0.0, "rehearsal", number=23, title="Second full rehearsal", date="", settings=SETTINGS))]
    for place, (key, _) in enumerate(KEYS):
        at = place * SECONDS / len(KEYS)
        lines += [(at, log_line(at, "plan", index=place, title=f"{PIECES[place % 3]} {key}", notes=NOTED[place % 3]))]
        for begin, on in ((0.0, False), (15.0, True), (880.0, False)):
            lines.append((at + begin, _harmony(at + begin, key, sounding=on)))
    for place, (name, _, _) in enumerate(SECTIONS):
        at = 1.0 + place * SECONDS / len(SECTIONS)
        lines.append((at, log_line(at, "setting", name="reading", value=name)))
    lines += [_note(rng, SECONDS * (place + rng.random()) / notes) for place in range(notes)]
    lines += [_chord(rng, 400.0 + 170.0 * place) for place in range(36)]
    for place in range(5):
        lines += _pulse(rng, 900.0 + 1200.0 * place, 76.0 + 8 * place)
    takes = [(number, 500.0 + 640.0 * number, 150.0 + 30.0 * number) for number in range(1, 10)]
    chapters = {}
    for number, start, seconds in takes:
        markers = tuple((seconds * (n + 0.5) / 5, LETTERS[(number + n) % len(LETTERS)]) for n in range(5))
        lines += [(start, log_line(start, "take-started", number=number, first_s=start - 8.0))]
        stop = start - 8.0 + seconds
        told = log_line(stop, "take-stopped", number=number, seconds=seconds, markers=markers)
        lines.append((stop, told))
        chapters[number] = vtt_text(markers, seconds)
    lines += [_round(*one) for one in _rounds(random.Random(seed))]  # noqa: S311 - invented data, no secret
    lines.append((5400.0, log_line(5400.0, "fault", message="stick-out", detail="")))
    level = {"seconds": SECONDS, "mean_db": 86.2, "loudest_db": 103.4, "calibrated": True, "dose": 33.1}
    lines.append((SECONDS - 1, log_line(SECONDS - 1, "level", **level, counted_s=7100.0)))
    lines.append((SECONDS, log_line(SECONDS, "power-down")))
    log = "".join(f"{line}\n" for _, line in sorted(lines, key=lambda one: one[0]))
    files = Files("0023", log, None, chapters, {n: (TakePart(f"take-{n:02d}.flac", s),) for n, _, s in takes})
    files = Files("0023", log, notes_text(read_rehearsal(files).notes), chapters, files.takes)
    return Evening(files, tuple(_past(rng, number) for number in range(15, 23)))


def _harmony(at: float, key: str, *, sounding: bool) -> str:
    return log_line(at, "harmony", key=key, tuning="just", a4=440.0, shape="octaves", tones=[], sounding=sounding)


def _note(rng: random.Random, at: float) -> tuple[float, str]:
    key, tonic = KEYS[min(int(at / SECONDS * len(KEYS)), len(KEYS) - 1)]
    place = max(min(int((at - 1.0) / SECONDS * len(SECTIONS)), len(SECTIONS) - 1), 0)
    _, up, sharp = SECTIONS[place]
    degree, semitones = rng.choices(MINOR if key.endswith("minor") else MAJOR, (6, 2, 5, 2, 5, 2, 2))[0]
    midi = 58 + (tonic + semitones) % 12 + rng.choice((0, 0, 12))
    listening = 1.0 - 0.35 * at / SECONDS
    cents = rng.gauss(listening * OFF[degree] + sharp, 6.0)
    settled = round(rng.uniform(0.3, 1.8), 3) if abs(cents) < rng.uniform(3.0, 9.0) else None
    late = round(rng.gauss(14.0, 16.0), 3) if rng.random() < 0.3 else None
    end = at + rng.uniform(0.8, 3.5)
    return end, log_line(
        end,
        "note",
        start_s=round(at, 3),
        degree=degree,
        concert=_named(midi),
        written=_named(midi + up),
        median_cents=cents,
        spread_cents=abs(rng.gauss(2.0, 1.0)),
        beats=abs(cents) * 0.12,
        settled_after=settled,
        late_ms=late,
    )


def _named(midi: int) -> str:
    return f"{NAMES[midi % 12]}{midi // 12 - 1}"


def _chord(rng: random.Random, at: float) -> tuple[float, str]:
    chord, degree = rng.choice((("B♭ major", "1"), ("F major", "5"), ("E♭ major", "4"), ("F seventh", "5")))
    rows = (("1", 0.0, "even"), ("3", 8.0, "soft"), ("5", 1.5, "loud"), ("♭7", -6.0, "even"))
    members = [
        {
            "degree": name,
            "note": "B♭3",
            "cents": round(rng.gauss(off, 3.0), 1),
            "level": level,
            "accepted": rng.random() < 0.9,
            "why": "",
            "seconds": 2.0,
        }
        for name, off, level in rows[: 4 if "seventh" in chord else 3]
    ]
    return at + 2.5, log_line(at + 2.5, "chord", start_s=at, chord=chord, degree=degree, seconds=2.5, degrees=members)


def _rounds(rng: random.Random, better: float = 0.0) -> list[tuple[float, str, str, str, float | None, int | None]]:
    """Rounds of drills: second, group, drill, what was asked, how far off, right or wrong."""
    third = "degree 3 by the knob"
    settled = [(4000.0 + 20 * n, "Clarinets 2", "settle", third, rng.gauss(4 + better, 4), None) for n in range(12)]
    told = [
        (4300.0 + 12 * n, "Everyone", "which-is-it", "just or equal", None, rng.random() < 0.8 - better / 60)
        for n in range(12)
    ]
    level = [(4500.0 + 15 * n, "Horns", "balance", "third at −3 dB", rng.gauss(1.5, 2), None) for n in range(4)]
    return [*settled, *told, *level]


def _round(at: float, group: str, drill: str, kind: str, off: float | None, right: int | None) -> tuple[float, str]:
    values = {"drill": drill, "group": group, "kind": kind, "number": 1, "degree": "3", "began": 20.0, "off": off}
    beats = None if off is None or drill != "settle" else abs(off) * 0.34
    said = "" if right is None else "just"
    return at, log_line(
        at, "drill-round", **values, seconds=9.0, beats=beats, said=said, right=None if right is None else bool(right)
    )


def _pulse(rng: random.Random, at: float, tempo: float) -> list[tuple[float, str]]:
    beats = [
        [str(beat), round(off + rng.gauss(0, 2), 1), 9.0] for beat, off in ((1, 6.0), (2, 14.0), (3, 24.0), (4, 11.0))
    ]
    return [
        (at, log_line(at, "pulse", on=True, tempo=tempo, to=tempo, meter="4/4")),
        (at + 400.0, log_line(at + 400.0, "pulse", on=False)),
        (
            at + 400.0,
            log_line(
                at + 400.0,
                "timing",
                start_s=at,
                first_bar=1,
                last_bar=96,
                count=rng.randrange(180, 420),
                median_ms=round(rng.gauss(13.0, 4.0), 1),
                spread_ms=round(rng.uniform(9, 17), 1),
                drift_percent=round(rng.gauss(-0.6, 0.3), 2),
                beats=beats,
                free=[[33, 40, -1.8]],
            ),
        ),
    ]


def _past(rng: random.Random, number: int) -> Past:
    better = (23 - number) * 0.6
    return Past(
        number=number,
        notes=rng.randrange(600, 3000),
        off_cents=round(6.2 + better + rng.gauss(0, 0.7), 2),
        rested=rng.randrange(200, 500),
        timed=900,
        late_ms=round(13 + better + rng.gauss(0, 2), 1),
        spread_ms=round(13 + better / 2 + rng.gauss(0, 1), 1),
        mean_db=round(rng.gauss(85, 1.5), 1),
        dose=25.0,
        drills=tuple(
            PastDrill("Clarinets 2", "settle", "degree 3 by the knob", 12, better + 4.0, better + 1.0, better + 9.0)
            for _ in range(number % 2)
        ),
        degrees=(("1", 1.0, 200), ("3", 12.5 + better, 140), ("5", 2.0, 120), ("6", 11.0, 60)),
    )
