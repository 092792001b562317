"""Drills on the sheet: figures by group, what can be told from so few rounds, and the trend."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from firmware.sheet.drill_figures import by_drill, differs
from firmware.sheet.drills import drills_html
from firmware.sheet.figures import past_of
from firmware.sheet.past import HEAD_BYTES, MOST_DRILLS, Past, PastDrill, past_meta, read_past
from firmware.sheet.rehearsal import DrillAnswer, HeldNote, Rehearsal
from firmware.sheet.sentences import sentences
from firmware.sheet.sheet import sheet_html

KIND = "degree 3 by the knob"


def plain(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def settled(*offs: float, group: str = "Clarinets 2") -> tuple[DrillAnswer, ...]:
    return tuple(DrillAnswer(9.0, "settle", group, KIND, "3", 30.0, off, 8.0, abs(off) / 3) for off in offs)


def told(right: int, count: int, drill: str = "which-is-it", kind: str = "just or equal") -> tuple[DrillAnswer, ...]:
    return tuple(
        DrillAnswer(9.0, drill, "Everyone", kind, "3", 1.0, None, 4.0, said="just", right=place < right)
        for place in range(count)
    )


def test_a_group_is_told_by_its_middle_and_its_spread():
    page = plain(drills_html(Rehearsal(1, drills=settled(-1.0, 2.0, 3.0, 4.0, 5.0, 9.0))))
    assert "Clarinets 2: settle, degree 3 by the knob 6 4 cents sharp, 1.2 beats/s" in page
    assert "+2 to +5 cents −1 to +9 cents –" in page


def test_too_few_rounds_are_said_to_be_too_few():
    page = plain(drills_html(Rehearsal(1, drills=settled(4.0, 6.0, 5.0))))
    assert "too few to tell" in page
    (figure,) = by_drill(settled(4.0))
    assert (figure.sure, figure.low, figure.high) == (None, 4.0, 4.0)


def test_groups_and_sorts_of_drill_are_kept_apart():
    answers = (*settled(1.0, 2.0), *settled(9.0, group="Horns"), *told(9, 12))
    assert [(one.group, one.drill, one.count) for one in by_drill(answers)] == [
        ("Clarinets 2", "settle", 2),
        ("Horns", "settle", 1),
        ("Everyone", "which-is-it", 12),
    ]


def test_which_is_it_is_set_beside_guessing():
    page = plain(drills_html(Rehearsal(1, drills=told(9, 12))))
    assert "9 of 12 right, in 4.0 s" in page
    # scipy 1.16: binomtest(9, 12, 0.5).proportion_ci(method="exact") and its p-value "greater"
    assert "43 to 95 % right; guessing does it in 7 %" in page
    assert "under 1 %" in plain(drills_html(Rehearsal(1, drills=told(12, 12))))


def test_degrees_that_were_held_are_counted():
    answers = told(7, 8, "match", "scale, within 10 cents for 3 s")
    page = plain(drills_html(Rehearsal(1, drills=answers)))
    assert "Everyone: match, scale, within 10 cents for 3 s 8 7 of 8 held, in 4.0 s – 47 to 100 % held" in page
    assert "too few to tell" in plain(drills_html(Rehearsal(1, drills=answers[:3])))


def test_a_level_is_loud_or_soft():
    def page(off: float) -> str:
        answers = tuple(replace(one, drill="balance", beats=None) for one in settled(off))
        return plain(drills_html(Rehearsal(1, drills=answers)))

    assert "2 dB loud" in page(2.2)
    assert "1 dB soft" in page(-0.8)
    assert "at its level" in page(0.3)


def test_a_drill_nobody_was_heard_in_is_a_dash():
    answers = (replace(settled(1.0)[0], off=None, beats=None),)
    assert "by the knob 1 – – too few to tell –" in plain(drills_html(Rehearsal(1, drills=answers)))


def test_without_drills_there_is_no_part():
    assert drills_html(Rehearsal(1)) == ""
    assert 'id="drills"' not in sheet_html(Rehearsal(1))


def before(number: int, *offs: float) -> Past:
    return past_of(Rehearsal(number, drills=settled(*offs)))


def test_a_change_is_called_one_only_when_the_intervals_do_not_meet():
    now = Rehearsal(43, drills=settled(1.0, -1.0, 2.0, 3.0, -2.0, 1.0))
    far = before(42, 20.0, 22.0, -25.0, 19.0, 30.0, 18.0)
    near = before(42, 2.0, 4.0, -5.0, 1.0, 3.0, 6.0)
    few = before(42, 20.0, 22.0)
    assert "21 cents from just in 42, now 2: better" in plain(drills_html(replace(now, past=(far,))))
    assert "no sure difference" in plain(drills_html(replace(now, past=(near,))))
    assert "too few to tell" in plain(drills_html(replace(now, past=(few,))))
    worse = Rehearsal(43, drills=settled(20.0, 22.0, 25.0, 19.0, 30.0, 18.0), past=(before(42, *[1.0] * 6),))
    assert "further off" in plain(drills_html(worse))
    fewer = Rehearsal(43, drills=told(1, 24), past=(past_of(Rehearsal(42, drills=told(22, 24))),))
    assert "now 4: less" in plain(drills_html(fewer))


def test_the_trend_has_a_picture_with_words_for_those_who_cannot_see_it():
    past = tuple(before(number, *[float(30 - number)] * 6) for number in (40, 41, 42))
    page = drills_html(Rehearsal(43, drills=settled(*[2.0] * 6), past=past))
    (title,) = re.findall(r'<title id="drill-1-words">([^<]*)</title>', page)
    assert title.startswith(
        "Clarinets 2, settle, degree 3 by the knob. 40: 10 cents from just, 6 rounds, surely 10 to 10"
    )
    assert title.endswith("now: 2 cents from just, 6 rounds, surely 2 to 2.")
    assert page.count("<circle") == 4
    few = drills_html(Rehearsal(43, drills=settled(2.0), past=past))
    assert "now: 2 cents from just, 1 round, too few to tell." in few


def test_the_figures_come_back_from_the_head_of_the_sheet():
    drills = (*settled(1.0, 2.0, 3.0), *told(9, 12))
    past = past_of(Rehearsal(42, drills=drills))
    assert len(past.drills) == 2
    assert past.drills[1] == PastDrill("Everyone", "which-is-it", "just or equal", 12, 75.0, 42.81, 94.51)
    assert read_past(past_meta(past), "sheet.html") == past


def test_figures_of_many_groups_still_lie_in_the_head_of_the_sheet():
    many = tuple(answer for number in range(60) for answer in settled(*[33.3] * 7, group=f"{'É' * 22}{number:02d} 9"))
    notes = tuple(HeldNote(0.0, 1.0, f"♭{n}", "D", "D", -10.123, 1.0) for n in range(40))
    page = sheet_html(Rehearsal(42, notes=notes, drills=many))
    read = read_past(page.encode()[:HEAD_BYTES].decode("utf-8", "replace"), "sheet.html")
    assert [one.group[-4:] for one in read.drills][-1] == "59 9"
    assert len(read.drills) == MOST_DRILLS


def test_sheets_of_before_there_were_drills_are_still_read():
    line = past_meta(Past(7)).replace("&quot;drills&quot;:[],", "").replace(",&quot;drills&quot;:[]", "")
    assert "drills" not in line
    assert read_past(line, "sheet.html") == Past(7)


def test_an_unknown_drill_of_a_later_version_is_still_told():
    answers = tuple(replace(one, drill="hum-along") for one in settled(*[4.0] * 6))
    assert "Clarinets 2: hum along" in plain(drills_html(Rehearsal(1, drills=answers)))
    assert "hum" not in " ".join(one.text for one in sentences(Rehearsal(1, drills=answers)))


@pytest.mark.parametrize(
    ("drills", "text"),
    [
        (
            settled(-1, 2, 3, 4, 5, 9),
            "Clarinets 2 settled the third 4 cents sharp in the middle of 6 rounds (−1 to +9).",
        ),
        (told(11, 12), "Everyone told just from equal 11 times of 12, more than guessing gives (62 to 100 %)."),
        (told(9, 12), "Everyone told just from equal 9 times of 12, which guessing gives too (43 to 95 %)."),
        (
            told(7, 8, "match", "scale, within 10 cents for 3 s"),
            "Everyone held 7 of 8 degrees, within 10 cents for 3 s (47 to 100 %).",
        ),
        (
            tuple(replace(one, drill="balance", kind="third at −3 dB") for one in settled(*[2.0] * 6)),
            "Clarinets 2 set the third at −3 dB +2 dB off in the middle of 6 rounds (+2 to +2).",
        ),
    ],
)
def test_the_third_sentence_speaks_of_a_drill_by_its_rule(drills: tuple[DrillAnswer, ...], text: str):
    third = sentences(Rehearsal(1, drills=drills))[2]
    assert third.text == text
    assert third.rule.startswith("Of the drills with 6 rounds or more")


def test_few_rounds_make_no_sentence():
    assert "settled" not in sentences(Rehearsal(1, drills=settled(1.0, 2.0)))[2].text


def test_intervals_that_touch_are_no_difference():
    (now,) = by_drill(settled(*[5.0] * 6))
    assert differs(now, PastDrill("a", "settle", KIND, 6, 9.0, 5.0, 9.0)) == 0.0
    assert differs(now, PastDrill("a", "settle", KIND, 6, 9.0, 5.1, 9.0)) == -4.0
