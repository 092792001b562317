"""Which updates are taken, and why the others are not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hardware.update.judge import Bundle, bundle_of, order, refusal, refused_by_rauc

RUNS = "0.1.0+20261125.1530"
GOOD = Bundle("keelnote-box", "0.1.0+20261126.0900", "slot.img", 1000, "ab" * 32)


def why(bundle: Bundle, failed: tuple[str, ...] = ()) -> str | None:
    return refusal(bundle, RUNS, 1000, failed)


def test_a_newer_one_for_this_box_is_taken() -> None:
    assert why(GOOD) is None
    assert why(replace(GOOD, version="0.2.0+20250101.0000")) is None
    assert why(replace(GOOD, size=400)) is None


@pytest.mark.parametrize(
    ("bundle", "words"),
    [
        (replace(GOOD, compatible="other-box"), "for another kind of box (other-box)"),
        (replace(GOOD, compatible=""), "it does not say for which"),
        (replace(GOOD, version=RUNS), "which this box already runs"),
        (replace(GOOD, version="0.1.0+20261124.2359"), f"older than {RUNS}"),
        (replace(GOOD, version="0.0.9+20991231.0000"), "older than"),
        (replace(GOOD, size=1001), "does not fit the slots"),
        (replace(GOOD, size=0), "does not fit the slots"),
        (replace(GOOD, image="root.img"), "does not fit the slots"),
        (replace(GOOD, version=""), "older than"),
    ],
)
def test_each_other_one_is_refused_in_plain_words(bundle: Bundle, words: str) -> None:
    said = why(bundle)
    assert said is not None
    assert words in said


def test_what_did_not_start_twice_is_not_tried_again() -> None:
    assert why(GOOD, (GOOD.sha256, "another")) is None
    assert "did not start here" in str(why(GOOD, (GOOD.sha256, "another", GOOD.sha256)))


def test_what_rauc_tells_is_read() -> None:
    # The shape is that of rauc 1.13, `rauc info --output-format=json`.
    told = {
        "compatible": "keelnote-box",
        "version": "0.1.0+20261126.0900",
        "images": [{"system": {"filename": "slot.img", "size": 1000, "checksum": "ab" * 32}}],
    }
    assert bundle_of(told) == GOOD
    assert why(bundle_of({})) is not None


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("signature verification failed: Verify error: self-signed certificate", "does not trust"),
        ("Invalid bundle format, expected squashfs or signature", "not whole"),
        ("Signature size (123456789) exceeds bundle size", "not whole"),
        ("something else", "damaged"),
    ],
)
def test_what_rauc_complains_of_is_said_in_plain_words(said: str, words: str) -> None:
    assert words in refused_by_rauc(said)


@given(st.lists(st.integers(0, 10**6), min_size=1, max_size=6), st.integers(1, 1000))
def test_a_later_number_is_greater(numbers: list[int], step: int) -> None:
    text = ".".join(map(str, numbers))
    later = ".".join(map(str, [*numbers[:-1], numbers[-1] + step]))
    assert order(later) > order(text)
    assert order(text) == order(text)
