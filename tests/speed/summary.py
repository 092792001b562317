"""The figures of tests/speed/results as the table that stands in README.md: one row each, from one place."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

RESULTS = Path(__file__).parent / "results"
BEGIN = "<!-- figures: begin -->"
END = "<!-- figures: end -->"


@dataclass(frozen=True, slots=True)
class Row:
    """One figure: what it is, the program and key of its number, how it is written, and what was to be reached."""

    what: str
    program: str
    key: str
    form: str
    goal: str


PITCH_BANDS = (("39-120 Hz", "praat cc"), ("120-1000 Hz", "praat cc"), ("1000-4186 Hz", "praat ac"))
"""Bands of the table of tones, each with the library of the least median error there."""


def pitch_rows() -> tuple[Row, ...]:
    """Median and 99th percentile of what is read in 85 ms at 20 dB, beside the other library whose median is least."""
    rows: list[Row] = []
    for band, best in PITCH_BANDS:
        for figure, name in (("median", "median"), ("p99", "99th percentile")):
            key = f"cents.{band}, 85 ms, 20 dB"
            goal = "at most 0.1" if figure == "median" else "at most 1"
            rows.append(
                Row(f"pitch, {band}, 85 ms at 20 dB: {name}", "pitch", f"{key}.keelnote.{figure}", "{:.3f} cent", goal)
            )
            rows.append(Row(f"the same by {best}", "pitch", f"{key}.{best}.{figure}", "{:.3f} cent", ""))
            rows.append(Row("a reader at the Cramér-Rao bound", "pitch", f"{key}.bound.{figure}", "{:.3f} cent", ""))
    return tuple(rows)


OVER_DRONE = "root position, drone at +6 dB removed"

ROWS = (
    Row("default rehearsal (92 s), times real time", "box", "rehearsal_times_real_time", "{:.1f} ×", "at least 10 ×"),
    Row("its peak memory", "box", "rehearsal_peak_mb", "{:.0f} MB", "under 250 MB"),
    Row("8-note drone, ear and take together", "box", "drone_ear_take_percent", "{:.1f} % of a core", "at most 12 %"),
    Row("drone alone, 32 notes of 16 partials", "drone", "drone_32_notes_percent", "{:.2f} % of a core", "at most 1 %"),
    Row("the same with mixer and limiter", "drone", "engine_32_notes_percent", "{:.2f} % of a core", ""),
    Row("engine against FluidSynth, per note", "drone", "engine_to_fluidsynth_per_note", "{:.2f} ×", "under 1 ×"),
    Row("block in which 8 notes change, worst", "drone", "change_of_8_notes_ms.worst", "{:.2f} ms", "of 10.67 ms"),
    *pitch_rows(),
    Row("chord in root position, median error", "chord", "situations.root position.median_cents", "{:.2f} cent", "0.8"),
    Row("its 95th percentile", "chord", "situations.root position.p95_cents", "{:.2f} cent", "2.6"),
    Row("the same over our drone at +6 dB", "chord", f"situations.{OVER_DRONE}.p95_cents", "{:.2f} cent", "2.6"),
    Row("degrees accepted there", "chord", f"situations.{OVER_DRONE}.accepted_percent", "{:.0f} %", "at least 95 %"),
    Row("octaves unknown", "chord", "situations.octaves unknown (3).accepted_percent", "{:.0f} %", "at least 70 %"),
    Row("chord check", "chord", "cost.chord_check_percent", "{:.1f} % of a core", "at most 5 % with all of hearing"),
    Row("answer to the next note, 6 dB louder, worst", "answer", "formula.change_ms.worst", "{:.0f} ms", "400 ms"),
    Row("answer silent after the player, worst", "answer", "formula.silent_ms.worst", "{:.0f} ms", "300 ms"),
    Row("the same, sampled instruments", "answer", "sampled.silent_ms.worst", "{:.0f} ms", "300 ms"),
    Row(
        "player at unison with our drone at +6 dB, first second after a change of chord: added error, p95",
        "own",
        "after_a_change.RT60 1.2 s, drone +6 dB.added_p95_cents",
        "{:.4f} cent",
        "1",
    ),
    Row("readings in an hour of drone, click, replay alone", "own_alone", "cases.room check.read", "{:.0f}", "0"),
    Row(
        "player beside our replay at +6 dB, after a room check",
        "own_beside",
        "table.room check.replay, +6 dB.read_percent",
        "{:.0f} % read",
        "",
    ),
    Row(
        "of these off by more than 50 cents",
        "own_beside",
        "table.room check.replay, +6 dB.gross_percent",
        "{:.1f} %",
        "0 %",
    ),
    Row(
        "all of hearing while following a player",
        "hearing_cost",
        "following_percent",
        "{:.1f} % of a core",
        "at most 5 %",
    ),
    Row("its memory", "hearing_cost", "memory_mb", "{:.0f} MB", "at most 60 MB"),
    Row("chorale chords, least motion: off just", "moving", "choices.least.off_just_mean_cents", "{:.2f} cent", ""),
    Row("their drift at the end, mean", "moving", "choices.least.drift_at_end_mean_cents", "{:.1f} cents", ""),
    Row("with common tones held instead", "moving", "choices.common.drift_at_end_mean_cents", "{:.1f} cents", ""),
    Row("the same, equal: off just", "moving", "equal temperament.off_just_mean_cents", "{:.1f} cents", ""),
    Row("adaptive tuning of ten notes", "moving", "cost.ten_notes_ms", "{:.3f} ms", "at most 1 ms"),
    Row("tonic of one sampled note", "catch", "one_note.right_percent", "{:.0f} % right", "100 %"),
    Row("key of 8 bars of a chorale, by ear", "catch", "key.ours_from_sound_percent", "{:.1f} % right", "as music21"),
    Row("music21 from the notes of those bars", "catch", "key.music21_from_notes_percent", "{:.1f} % right", ""),
    Row(
        "onsets of strokes beside the click, median",
        "onsets",
        "table.strokes with click.ours.median_ms",
        "{:.2f} ms",
        "0.5",
    ),
    Row("their 95th percentile", "onsets", "table.strokes with click.ours.p95_ms", "{:.2f} ms", "2"),
    Row(
        "violin, the slowest attack, 95th percentile",
        "onsets",
        "table.violin with click.ours.p95_ms",
        "{:.1f} ms",
        "10",
    ),
    Row("its F-measure", "onsets", "table.violin with click.ours.f_measure", "{:.3f}", "at least 0.97"),
    Row(
        "over a drone too, trumpet",
        "onsets",
        "table.trumpet with click and drone.ours.f_measure",
        "{:.3f}",
        "librosa 0.69, aubio 0.68",
    ),
    Row(
        "over a drone too, violin",
        "onsets",
        "table.violin with click and drone.ours.f_measure",
        "{:.3f}",
        "librosa 0.52, aubio 0.51",
    ),
    Row(
        "the busiest groove",
        "pulse",
        "clicker_percent_of_one_core.bossa_nova_300",
        "{:.2f} % of a core",
        "at most 1.5 %",
    ),
    Row(
        "key that bounces for 5 ms, to the new sound before its latency",
        "panel",
        "answered_ms.key that bounces for 5 ms.median",
        "{:.1f} ms",
        "at most 20 ms",
    ),
    Row("its 99th percentile", "panel", "answered_ms.key that bounces for 5 ms.p99", "{:.1f} ms", "at most 20 ms"),
    Row("the same by a number pad", "panel", "answered_ms.number pad.p99", "{:.1f} ms", "at most 20 ms"),
    Row("a picture to the SSD1306, without its wire", "panel", "picture_cpu_ms.ssd1306.ours", "{:.3f} ms", ""),
    Row("the same by luma's own way", "panel", "picture_cpu_ms.ssd1306.lumas", "{:.3f} ms", ""),
    Row("a picture to the SH1106, without its wire", "panel", "picture_cpu_ms.sh1106.ours", "{:.3f} ms", ""),
    Row("bytes for a thousand equal pictures", "panel", "bytes.ssd1306.a_thousand_equal", "{:.0f}", "0"),
    Row("plan of 500 steps opens", "plan", "opened.plan of 500 steps.seconds", "{:.2f} s", "at most 2 s"),
    Row("score of 5 MB opens", "plan", "opened.score of 5 MB.seconds", "{:.2f} s", "at most 2 s"),
    Row("peak memory for it", "plan", "opened.score of 5 MB.peak_mb", "{:.0f} MB", "at most 80 MB"),
    Row(
        "from the block after a step to its sound",
        "plan",
        "samples_from_block_to_sound.most",
        "{:.0f} samples",
        "at most 512",
    ),
    Row("kills and power cuts of a recording process", "take_killed", "kills", "{:.0f}", "300"),
    Row("takes lost or damaged by them", "take_killed", "takes_lost_or_damaged", "{:.0f}", "0"),
    Row("most that a running take misses", "take_killed", "missing_s_worst", "{:.2f} s", "at most 1.2 s"),
    Row("hours of one take, faster than real time", "take_hours", "long.hours", "{:.0f} h", "8 h"),
    Row("checksum of its parts is that of the input", "take_hours", "long.checksums_equal", "{:.0f} (1 is yes)", "1"),
    Row("range of its memory", "take_hours", "long.memory_range_mb", "{:.1f} MB", "±5 MB"),
    Row("writing a take", "take_cost", "take_percent", "{:.2f} % of a core", ""),
    Row("writing a take and the ear", "take_cost", "take_and_ear_percent", "{:.2f} % of a core", "at most 4 %"),
    Row(
        "replay from an hour's FLAC to its first sound",
        "stretch",
        "start_of_replay_ms",
        "{:.1f} ms",
        "150 with the card",
    ),
    Row("at half speed, pitch of a low chord", "stretch", "table.ours.chord_cents", "{:.4f} cent", "at most 1"),
    Row("strokes there come off, 95th percentile", "stretch", "table.ours.struck_off_p95_ms", "{:.1f} ms", ""),
    Row("the best of four others", "stretch", "table.rubberband finer.struck_off_p95_ms", "{:.1f} ms", ""),
    Row("strokes there are smeared by", "stretch", "table.ours.struck_smear_p95_ms", "{:.1f} ms", "kept"),
    Row("replay at half speed", "stretch", "table.ours.percent_of_a_core", "{:.2f} % of a core", ""),
    Row(
        "samples lost or doubled in 30 min of drone, click, ear and take, at loudspeaker, microphone and in the take",
        "sound_exact",
        "lost_or_doubled_samples",
        "{:.0f}",
        "0",
    ),
    Row(
        "sound is back after 50 pulled or hung cards, worst",
        "sound_back",
        "seconds_until_sound_worst",
        "{:.2f} s",
        "2 s",
    ),
    Row("that a card is gone is noticed, worst", "sound_back", "seconds_until_noticed_worst", "{:.2f} s", ""),
    Row(
        "callbacks are late on 2 busy cores with drone, click, ear, take and screen, 99.9th percentile",
        "callback_lateness",
        "working.p999_ms",
        "{:.1f} ms",
        "under half of the output latency",
    ),
    Row("output latency there", "callback_lateness", "output_latency_ms", "{:.1f} ms", ""),
    Row(
        "the same while the stick stalls",
        "callback_lateness",
        "stick_stalls.p999_ms",
        "{:.1f} ms",
        "under half of the output latency",
    ),
    Row(
        "the machine stood still under all programs meanwhile, worst",
        "callback_lateness",
        "working.machine_stall_worst_ms",
        "{:.1f} ms",
        "",
    ),
    Row("through the card and back", "sound_trip", "round_trip_ms", "{:.3f} ms", ""),
    Row(
        "openings in which that is the same to the sample",
        "sound_trip",
        "openings_that_agree_to_the_sample",
        "{:.0f} of 10",
        "10 of 10",
    ),
    Row("sheet of 2 h of rehearsal, 4000 notes", "sheet", "files_to_page_seconds", "{:.2f} s", "at most 3 s"),
    Row("its size", "sheet", "page_kb", "{:.0f} kB", "at most 400 kB"),
    Row("its size with 9000 notes", "sheet", "busiest_page_kb", "{:.0f} kB", "at most 400 kB"),
)


def number_of(program: str, key: str, folder: Path = RESULTS) -> float:
    """The number under a dotted key of a program's results."""
    value = json.loads((folder / f"{program}.json").read_text(encoding="utf-8"))
    parts = key.split(".")
    while parts:
        # A name may have a dot of its own, as "RT60 1.2 s" does.
        name = next(name for count in range(1, len(parts) + 1) if (name := ".".join(parts[:count])) in value)
        value = value[name]
        parts = parts[name.count(".") + 1 :]
    return float(value)


def figures_text(folder: Path = RESULTS) -> str:
    """The table, and on which machine and day each program ran."""
    lines = ["| figure | measured | to reach | program |", "| --- | --- | --- | --- |"]
    for row in ROWS:
        written = row.form.format(number_of(row.program, row.key, folder))
        lines.append(f"| {row.what} | {written} | {row.goal} | `tests/speed/{row.program}.py` |")
    lines.append("")
    for program in dict.fromkeys(row.program for row in ROWS):
        found = json.loads((folder / f"{program}.json").read_text(encoding="utf-8"))
        lines.append(f"`{program}`: {found['date']}, {found['machine']}.")
    return "\n".join(lines) + "\n"


def renewed(document: str) -> str:
    """A document with its figures drawn anew; unchanged if it has no place for them."""
    before, begin, rest = document.partition(BEGIN)
    _, end, after = rest.partition(END)
    return f"{before}{BEGIN}\n{figures_text()}{END}{after}" if begin and end else document
