"""Which sound card is taken: by rule, whatever order they were found in, and by the kind that is asked for."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

from firmware.errors import DeviceError
from hardware.drivers.sound_devices import (
    KINDS,
    ByRule,
    Choice,
    Named,
    SoundDevice,
    device_pair,
    kernel_devices,
    kind_of,
    ranked,
    with_numbers,
)

USB = SoundDevice("USB-Audio - Interface", 2, 0, "usb", heard=True, played=True)
MIC = SoundDevice("USB-Audio - Microphone", 3, 0, "usb", heard=True, played=False)
DAC = SoundDevice("simple-card - DAC", 4, 0, "board", heard=False, played=True)
JACK = SoundDevice("bcm2835 - Headphones", 0, 0, "built-in", heard=False, played=True)
HDMI = SoundDevice("vc4-hdmi - vc4-hdmi", 1, 0, "screen", heard=False, played=True)
ALL = (USB, MIC, DAC, JACK, HDMI)

TABLE = [
    (ALL, "auto", ("(hw:2,0)", "(hw:2,0)")),
    ((MIC, DAC, JACK, HDMI), "auto", ("(hw:3,0)", "(hw:4,0)")),
    ((MIC, JACK, HDMI), "auto", ("(hw:3,0)", "(hw:0,0)")),
    ((DAC, JACK, HDMI), "auto", (None, "(hw:4,0)")),
    ((JACK, HDMI), "auto", (None, "(hw:0,0)")),
    (ALL, "board", ("(hw:2,0)", "(hw:4,0)")),
    (ALL, "built-in", ("(hw:2,0)", "(hw:0,0)")),
    (ALL, "screen", ("(hw:2,0)", "(hw:1,0)")),
    ((JACK,), "usb", (None, "(hw:0,0)")),
]


@pytest.mark.parametrize(("devices", "wanted", "pair"), TABLE)
def test_the_first_choice_is_the_same_in_whatever_order_they_were_found(
    devices: tuple[SoundDevice, ...], wanted: str, pair: tuple[object, object]
):
    assert {ranked(order, wanted)[0].pair for order in itertools.permutations(devices)} == {pair}


def test_a_monitor_is_never_played_to_unless_it_is_asked_for():
    assert ranked((HDMI, MIC)) == ()
    assert all(choice.played != HDMI.address for choice in ranked(ALL))
    assert ranked((HDMI,), "screen") == (Choice(None, HDMI.address, microphone=False),)


def test_of_two_equal_cards_the_name_decides_not_the_number():
    other = SoundDevice("USB-Audio - Another", 7, 0, "usb", heard=True, played=True)
    assert ranked((USB, other))[0].played == other.address


def test_a_choice_without_a_microphone_opens_none():
    assert ranked((JACK,)) == (Choice(None, "(hw:0,0)", microphone=False),)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("vc4-hdmi - vc4-hdmi", "screen"),
        ("HDA-Intel - HDA Intel PCH HDMI 0", "screen"),
        ("HDA-Intel - HDA Intel PCH ALC269", "built-in"),
        ("bcm2835 Headphones", "built-in"),
        ("Loopback - Loopback 1", "board"),
    ],
)
def test_names_say_the_kind(text: str, kind: str):
    assert kind_of(text) == kind
    assert kind in KINDS


def listing(folder: Path) -> Path:
    """/proc/asound as Linux 6 writes it: a jack, HDMI, a USB interface, and a MIDI keyboard, which has no PCM."""
    (folder / "cards").write_text(
        " 0 [Headphones     ]: bcm2835_headpho - bcm2835 Headphones\n"
        "                      bcm2835 Headphones\n"
        " 1 [vc4hdmi        ]: vc4-hdmi - vc4-hdmi\n"
        "                      vc4-hdmi\n"
        " 2 [Device         ]: USB-Audio - USB Audio Device\n"
        "                      at usb-0000:01:00.0-1.3, full speed\n"
        " 3 [Keyboard       ]: USB-Audio - Keyboard\n"
    )
    (folder / "pcm").write_text(
        "00-00: bcm2835 Headphones : bcm2835 Headphones : playback 8\n"
        "01-00: MAI PCM i2s-hifi-0 : MAI PCM i2s-hifi-0 : playback 1\n"
        "02-00: USB Audio : USB Audio : playback 1 : capture 1\n"
    )
    for card in (2, 3):
        (folder / f"card{card}").mkdir()
        (folder / f"card{card}" / "usbid").write_text("1234:5678\n")
    return folder


def test_the_kernels_list_is_read(tmp_path: Path):
    jack, hdmi, usb = kernel_devices(listing(tmp_path))
    assert (jack.kind, hdmi.kind, usb.kind) == ("built-in", "screen", "usb")
    assert (jack.heard, usb.heard, usb.played, usb.address) == (False, True, True, "(hw:2,0)")
    assert ByRule(kernel=tmp_path).choices()[0] == Choice("(hw:2,0)", "(hw:2,0)")
    assert ByRule("built-in", tmp_path).choices()[0].played == "(hw:0,0)"


def test_no_card_is_said_and_a_system_without_the_list_gets_its_default(tmp_path: Path):
    (tmp_path / "pcm").write_text("")
    with pytest.raises(DeviceError, match="Plug in a sound card"):
        ByRule(kernel=tmp_path).choices()
    assert ByRule(kernel=tmp_path / "none").choices() == (Choice(None, None),)
    assert Named("in", 3).choices() == (Choice("in", 3),)


def test_addresses_become_portaudios_numbers():
    listed = [{"name": "sysdefault"}, {"name": "USB Audio Device: - (hw:2,0)"}, {"name": "x: - (hw:12,0)"}]
    assert with_numbers(Choice("(hw:2,0)", "(hw:2,0)"), listed).pair == (1, 1)
    assert with_numbers(Choice(None, "name", microphone=False), listed).pair == (None, "name")
    with pytest.raises(DeviceError, match=r"\(hw:3,0\).*Another program"):
        with_numbers(Choice("(hw:3,0)", 1), listed)


@pytest.mark.parametrize(
    ("text", "pair"),
    [
        (None, (None, None)),
        ("", (None, None)),
        ("3", (3, 3)),
        ("usb", ("usb", "usb")),
        ("1,2", (1, 2)),
        (" in , out ", ("in", "out")),
        (",2", (None, 2)),
        ("mic,", ("mic", None)),
    ],
)
def test_devices_are_named_for_both_or_for_each_way(text: str | None, pair: tuple[object, object]):
    assert device_pair(text) == pair
