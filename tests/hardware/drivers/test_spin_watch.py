"""A driver that never sleeps is opened anew, once in a while; one that sleeps is left alone."""

from __future__ import annotations

from hardware.drivers.spin_watch import REST_SECONDS, WINDOW_SECONDS, SpinWatch

BLOCK_SECONDS = 0.0107
WORK_SECONDS = 0.004


def run(watch: SpinWatch, seconds: float, share: float, start: float = 100.0) -> float:
    """Callbacks for some seconds, between which the driver takes its share of a processor; when they ended."""
    now, spent = start, 5.0
    while now < start + seconds:
        watch.began(now, spent)
        spent += WORK_SECONDS
        watch.ended(spent)
        spent += share * BLOCK_SECONDS
        now += BLOCK_SECONDS
    return now


def test_a_driver_that_sleeps_is_left_alone_however_much_our_own_sound_takes():
    watch = SpinWatch()
    assert not watch.shall_mend(run(watch, 10, 0.02))
    assert watch.count == 0


def test_a_driver_that_never_sleeps_is_known_after_one_window():
    watch = SpinWatch()
    assert not watch.shall_mend(run(watch, WINDOW_SECONDS / 2, 0.9))
    watch.restart()
    assert watch.shall_mend(run(watch, WINDOW_SECONDS + 0.1, 0.9))
    assert watch.count == 1


def test_what_opening_took_is_not_the_drivers_share():
    watch = SpinWatch()
    watch.began(0.0, 3.0)
    watch.ended(3.0)
    assert not watch.shall_mend(run(watch, 1.0, 0.01, start=0.0))


def test_a_new_stream_starts_from_nothing():
    watch = SpinWatch()
    end = run(watch, 3.0, 0.9)
    watch.restart()
    assert not watch.shall_mend(end)


def test_where_opening_anew_does_not_help_sound_is_not_broken_again_and_again():
    watch = SpinWatch()
    end = run(watch, 3.0, 0.9)
    assert watch.shall_mend(end)
    watch.restart()
    end = run(watch, 3.0, 0.9, start=end)
    assert not watch.shall_mend(end)
    assert watch.shall_mend(end + REST_SECONDS)
