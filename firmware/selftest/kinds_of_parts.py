"""Every fault of screen, light, stick, sound, supply, clock and keyboards that the self-test can name."""

from __future__ import annotations

from typing import Final

from firmware.selftest.kind import Kind

_SCREEN: Final = (
    Kind(
        "bus-off",
        "screen",
        "I2C is switched off",
        "There is no I2C bus: {error}.",
        "Set dtparam=i2c_arm=on in the boot configuration and start again.",
    ),
    Kind(
        "bus-shorted",
        "screen",
        "SDA touches ground",
        "Every address of the I2C bus seems to answer, so SDA (place 3) is held low.",
        "Look for a bridge of solder between SDA and ground.",
    ),
    Kind(
        "bus-silent",
        "screen",
        "Nothing answers on I2C",
        "Neither screen nor clock chip answers on the I2C bus.",
        "Are SDA (place 3) and SCL (place 5) swapped? Then look at their 3.3 V and ground.",
    ),
    Kind(
        "screen-silent",
        "screen",
        "Screen does not answer",
        "The screen does not answer on the I2C bus.",
        "Look at its four wires, and whether SDA (place 3) and SCL (place 5) are swapped.",
    ),
    Kind(
        "screen-address",
        "screen",
        "Screen is at {address}",
        "The screen answers at {address}, not at {expected}.",
        "Write address = {address} in the board file.",
        (("address", "0x3D"),),
    ),
    Kind(
        "bus-slow",
        "screen",
        "I2C is slow: {khz} kHz",
        "The I2C bus runs at about {khz} kHz, so a picture takes {seconds} s.",
        "Set dtparam=i2c_arm_baudrate=400000 in the boot configuration.",
        (("khz", "888"),),
    ),
    Kind(
        "screen-dark",
        "screen",
        "Screen stays dark",
        "The screen answers but shows nothing.",
        "Look at its VCC at the screen's end; if 3.3 V is there, its glass or flat cable is broken.",
    ),
    Kind(
        "screen-upside-down",
        "screen",
        "Picture is upside down",
        "The picture is upside down.",
        "Write rotated = true in the board file, or turn the screen round.",
    ),
    Kind(
        "screen-chip",
        "screen",
        "Screen has the other chip",
        "The picture is shifted, or there is snow at an edge: the screen has the other chip.",
        'Write chip = "{other}" in the board file.',
    ),
    Kind(
        "screen-dots",
        "screen",
        "Screen lacks lines or dots",
        "Lines or dots of the screen stay dark.",
        "Its glass or flat cable is damaged: take another one.",
    ),
)

_LED: Final = (
    Kind(
        "led-dark",
        "light",
        "LED stays dark: turn it round",
        "The LED stays dark.",
        "Turn it round: its long leg goes to the resistor. If it stays dark, look at its wire from place {place}.",
    ),
    Kind(
        "led-lit",
        "light",
        "LED is always lit",
        "The LED is always lit.",
        "Its wire touches 3.3 V instead of going to place {place}.",
    ),
    Kind(
        "led-inverted",
        "light",
        "LED is lit when it should be dark",
        "The LED is lit when it should be dark.",
        "It hangs between 3.3 V and its pin; it must hang between its pin and ground.",
    ),
)

_STICK: Final = (
    Kind("stick-out", "stick", "No stick", "There is no USB stick, or its socket is not wired.", "Put one in."),
    Kind(
        "stick-unknown",
        "stick",
        "Can't read stick: FAT32?",
        "The stick has an unknown file system.",
        "Format it as FAT32.",
    ),
    Kind(
        "stick-read-only",
        "stick",
        "Stick is locked",
        "The stick can't be written to.",
        "Open its lock, or take another.",
    ),
    Kind("stick-full", "stick", "Stick is full", "There is hardly any room on the stick.", "Delete old rehearsals."),
    Kind("stick-error", "stick", "Stick refuses", "The stick refuses to be written.", "Take another one."),
    Kind(
        "stick-slow",
        "stick",
        "Stick is slow: {speed} MB/s",
        "The stick takes {speed} MB in a second; a take needs 0.3, and room for bad moments.",
        "Take another one.",
        (("speed", "0.88"),),
    ),
    Kind(
        "stick-stalls",
        "stick",
        "Stick stalls for {seconds} s",
        "The stick kept still for {seconds} s while it was written.",
        "Take another one: takes wait in memory meanwhile, but not for ever.",
        (("seconds", "88"),),
    ),
)

_SOUND: Final = (
    Kind(
        "no-sound-card",
        "sound",
        "No sound card",
        "There is no sound card: {error}.",
        "Plug it in, or look at its cable.",
    ),
    Kind(
        "output-silent",
        "sound",
        "Nothing is heard",
        "The test tone is not heard, neither by you nor by the microphone.",
        "Turn the PA up slowly; then look at the cable from the output, and whether the right output is chosen.",
    ),
    Kind(
        "mic-zero",
        "sound",
        "Microphone is muted",
        "The microphone gives nothing at all, not even noise.",
        "It is muted, or another input is chosen.",
    ),
    Kind(
        "mic-deaf",
        "sound",
        "Microphone hears nothing",
        "The tone is heard in the room, but not by the microphone.",
        "Look at its cable and its switch, and whether its input needs phantom power.",
    ),
    Kind(
        "mic-quiet",
        "sound",
        "Microphone {db} dB too quiet",
        "The microphone is {db} dB too quiet.",
        "Turn its gain up, or put it nearer.",
        (("db", "88"),),
    ),
    Kind(
        "mic-loud",
        "sound",
        "Microphone {db} dB too loud",
        "The microphone is {db} dB too loud.",
        "Turn its gain down.",
        (("db", "88"),),
    ),
    Kind("mic-clips", "sound", "Microphone clips", "The microphone touches full scale.", "Turn its gain down."),
    Kind(
        "mic-rides",
        "sound",
        "Mic sets its own gain",
        "The microphone sets its own gain: {asked} dB more sound gave {found} dB more.",
        "Switch automatic gain off, on the microphone or in the mixer of the sound card.",
    ),
    Kind(
        "mic-offset",
        "sound",
        "Microphone line has an offset",
        "The microphone's signal is off the middle by {percent} % of full scale.",
        "It is in the wrong jack, or its input is broken.",
    ),
    Kind(
        "noise",
        "sound",
        "Microphone noise: {db} dB",
        "In silence the microphone still gives {db} dB re full scale, A-weighted.",
        "Is the room quiet? Then turn its gain down and the PA up, or take another microphone.",
        (("db", "-88"),),
    ),
    Kind(
        "hum",
        "sound",
        "Hum of {hz} Hz: ground loop?",
        "The microphone hears {hz} Hz and its multiples at {db} dB re full scale.",
        "Feed box and PA from the same outlet, lay cables away from supplies, try a DI box. Never lift a mains earth.",
        (("hz", "60"),),
    ),
    Kind(
        "distorts",
        "sound",
        "Loudspeaker distorts",
        "What comes back is distorted: {db} dB against the sound itself.",
        "Turn the PA's gain down and the box's level up, or take another loudspeaker.",
    ),
    Kind(
        "delay",
        "sound",
        "Sound takes {ms} ms",
        "Sound takes {ms} ms from the box to its microphone.",
        "Take wireless loudspeakers and effects out of the way.",
        (("ms", "888"),),
    ),
    Kind(
        "clocks",
        "sound",
        "Two clocks: {ppm} ppm apart",
        "Input and output run on clocks that are {ppm} parts in a million apart.",
        "Use one sound card for both.",
        (("ppm", "-888"),),
    ),
    Kind(
        "rates",
        "sound",
        "Mic runs at {khz} kHz",
        "The microphone runs at {khz} kHz, the box at 48 kHz.",
        "Set the sound card to 48 kHz for input and output.",
        (("khz", "44.1"),),
    ),
    Kind(
        "sound-late",
        "sound",
        "Sound was late {count} times",
        "Of eight seconds of sound {count} blocks were lost.",
        "Take the card out of any hub and try another socket.",
        (("count", "888"),),
    ),
)

_REST: Final = (
    Kind(
        "supply-low",
        "supply",
        "Supply is too weak",
        "The supply's voltage is too low now.",
        "Use a certified supply of 5.1 V and 3 A, and a short, thick lead.",
    ),
    Kind(
        "supply-was-low",
        "supply",
        "Supply was too weak",
        "The supply's voltage was too low at some moment since power-on.",
        "Use a certified supply of 5.1 V and 3 A, and a short, thick lead; take greedy USB devices off.",
    ),
    Kind(
        "hot",
        "supply",
        "Processor is hot: {celsius} C",
        "The processor has {celsius} degrees and slows down from 80 on.",
        "Open more holes in the case, or put a heat sink on it.",
        (("celsius", "88"),),
    ),
    Kind(
        "clock-absent",
        "clock",
        "Clock chip does not answer",
        "The clock chip that the board file tells of does not answer at {address}.",
        "Look at its four wires, and whether its overlay is in the boot configuration.",
    ),
    Kind(
        "clock-stopped",
        "clock",
        "Clock stands: new battery?",
        "The clock chip has stopped or lost the time.",
        "Put in a new battery, and set the date.",
    ),
    Kind(
        "keyboard-silent",
        "keyboards",
        "No note from keyboard",
        "The keyboard {keyboard} is there, but no note came from it.",
        "Was a key of it pressed? Then look in its settings for MIDI out by USB, or try another one.",
    ),
    Kind(
        "keyboard-holds",
        "keyboards",
        "Note {note} never ends",
        "The keyboard says that note {note} begins, but not that it ends.",
        "Was the key let go? Then look for a key that sticks, or a hold that is switched on.",
        (("note", "127"),),
    ),
    Kind(
        "keyboard-gone",
        "keyboards",
        "Keyboard went away",
        "The keyboard {keyboard} went away while it was played.",
        "Try another USB lead and socket; one that takes much current needs a hub with a supply of its own.",
    ),
    Kind(
        "keyboard-refused",
        "keyboards",
        "Keyboard can't be opened",
        "The keyboard {keyboard} is there, but can't be opened: {error}.",
        "End other programs that use it, pull it out and plug it in again.",
    ),
)

PARTS: Final[tuple[Kind, ...]] = (*_SCREEN, *_LED, *_STICK, *_SOUND, *_REST)
