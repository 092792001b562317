"""Every line that the screen may show in its message strip, with the whole sentence that goes into report.txt."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from firmware.card_messages import CARD
from firmware.message import Message
from firmware.stick_messages import STICK, TAKES

MORE: Final = "…"

_THING: Final = (("thing", "compare_with, line 888"), ("value", "meantonemeantone"))

MESSAGES: Final[tuple[Message, ...]] = (
    # what was asked for can't be done
    Message(
        "error",
        "{thing} {value} refused",
        "Something was not accepted; the details say what, and what is allowed.",
        bare="Failed: see report.txt",
        widest=_THING,
    ),
    Message(
        "unknown-name",
        "Unknown {thing}: {value}",
        "A name is in none of the tables; the details list the names that there are.",
        bare="Unknown name: see report.txt",
        widest=_THING,
    ),
    Message(
        "out-of-range",
        "{thing} out of range: {value}",
        "A number lies outside its range; the details give the range.",
        bare="Out of range: see report.txt",
        widest=(("thing", "accidentals of B"), ("value", "-123456.75")),
    ),
    Message(
        "bad-file",
        "Can't use {thing}",
        "A file can't be used as what it was offered for; the details say why.",
        bare="Bad file: see report.txt",
        widest=(("thing", "rehearsals/0042 2026-11-25"),),
    ),
    Message(
        "bad-entry",
        "Can't use {thing}",
        "An entry of a text file can't be used; the details give its line, its key and what is allowed.",
        bare="Bad entry: see report.txt",
        widest=(("thing", "settings.toml, line 888: brightness"),),
    ),
    Message("device", "A device fails: see report.txt", "A device is missing, was pulled out or refuses."),
    *STICK,
    *CARD,
    *TAKES,
    # ear
    Message("nothing-to-catch", "No clear tone to catch", "The ear hears no steady tone that could be the tonic."),
    Message(
        "caught",
        "Caught {tonic} {mode}",
        "The tonic was taken from the room.",
        bare="Caught the tonic",
        widest=(("tonic", "Sol♯"), ("mode", "harmonic minor")),
    ),
    Message(
        "caught-unsure",
        "{tonic} {mode}? {sure} %. Hold again for {other}",
        "The key was taken from the room, not surely; holding the Ear key again takes the second guess.",
        bare="Caught, not surely: hold again for another",
        widest=(("tonic", "Sol♯"), ("mode", "minor"), ("sure", "88"), ("other", "Sol♯ minor")),
    ),
    Message("catching", "Play the tonic", "The ear listens for the tonic for a few seconds."),
    Message(
        "reading-on",
        "Written pitch is shown",
        "The screen shows written pitch for a transposing part until the reading is concert pitch again.",
    ),
    # plan, pulse, settings
    Message(
        "plan-bad",
        "Plan has errors: see report",
        "The plan can't be used as it stands; the details give line, key and what is allowed.",
    ),
    Message("keyboard", "Keyboard plugged in", "A MIDI keyboard was plugged in; what it plays is in tune."),
    Message("no-keyboard", "Keyboard unplugged", "The MIDI keyboard was unplugged; what it held was let go."),
    Message(
        "plan-opened",
        "{title}",
        "A plan or score was opened; the pedal begins its first step.",
        bare="Plan opened",
        widest=(("title", "Warm-up on the open fifth, then chorale no. 3"),),
    ),
    Message(
        "plan-names",
        "Plan names notes in {language}",
        "The plan's note names are not the room's, or may be another language's; the screen shows them as the room "
        "says them.",
        bare="Plan: whose note names?",
        widest=(("language", "fixed do"),),
    ),
    Message("plan-none", "No plan on the stick", "The pedal steps through a plan, and there is none."),
    Message("plan-end", "The plan is at its end", "The last step of the plan has begun."),
    Message(
        "plan-step",
        "{title}",
        "The plan went on to its next step.",
        bare="Next step",
        widest=(("title", "Warm-up on the open fifth, then chorale no. 3"),),
    ),
    Message(
        "tempo-set",
        "Tempo {tempo}",
        "The tempo was tapped.",
        bare="Tempo is set",
        widest=(("tempo", "188.888"),),
    ),
    Message(
        "pulse-waits",
        "Press Pulse on beat 1",
        "The pulse waits for the next press of its key, which is the first beat.",
    ),
    Message(
        "groove-unknown",
        "No groove {name}",
        "A groove that was asked for is neither in the box nor on the stick; plain beats take its place.",
        bare="No such groove",
        widest=(("name", "quarter-triplets"),),
    ),
    Message(
        "groove-bad",
        "A groove was refused: see report",
        "A groove or piece on the stick can't be used; the details give its line and what is allowed.",
    ),
    Message(
        "tuning-unknown",
        "No tuning {name}",
        "A tuning that was asked for is neither in the box nor on the stick; just takes its place.",
        bare="No such tuning",
        widest=(("name", "werckmeister-3, hall"),),
    ),
    Message(
        "tuning-bad",
        "A tuning was refused: see report",
        "A tuning on the stick can't be used; the details give its line and what is allowed.",
    ),
    Message(
        "tuning-kept",
        "Tuning {name} is kept",
        "A tuning that was made by the knob was saved on the stick.",
        bare="Tuning is kept",
        widest=(("name", "own 99"),),
    ),
    Message(
        "tuning-limit",
        "Degree can't go further",
        "A degree can't pass the one above or below it, and the tone that all others count from stays.",
    ),
    Message("tunings-many", "No free name: delete some", "All names that the box gives to own tunings are taken."),
    Message(
        "setting-bad",
        "A setting was refused",
        "A setting has a value that is not allowed; its default is used. The details name it.",
    ),
    Message(
        "setting-unknown",
        "Unknown setting: see report",
        "The settings file has an entry that the box does not know. The details name it.",
    ),
    Message(
        "restarted",
        "Started anew by itself",
        "The program of the box ended without being told to and was started again; the drone goes on as it was.",
    ),
    Message("settings-kept", "Settings are kept", "The settings were saved."),
    # sound
    Message(
        "no-sound-card", "No sound card", "There is no sound card, so nothing sounds and nothing is heard. Plug one in."
    ),
    Message(
        "sound-lost",
        "Sound card is gone",
        "The sound card was pulled out or stopped. The box looks for it again by itself.",
    ),
    Message("sound-back", "Sound is back", "The sound card is back."),
    Message(
        "sound-late",
        "Sound came late",
        "The box was too slow for a moment; the details count the blocks that were lost.",
    ),
    # drills
    Message(
        "drill-unheard",
        "Not heard: play, then say",
        "The class said that the degree rests, but no player was heard on it in the second before.",
    ),
    # room
    Message(
        "room-check-runs",
        "Room check: keep quiet",
        "The box plays its test signal and learns how the room answers; nobody else should sound for six seconds.",
    ),
    Message(
        "room-check-done",
        "Room check is done: echo {seconds} s",
        "The box knows how its own sound comes back from the room.",
        bare="Room check is done",
        widest=(("seconds", "8.88"),),
    ),
    Message(
        "room-check-failed",
        "Room check failed: PA up?",
        "The box did not hear its test signal well enough. Turn the PA up a little, keep quiet, and check again.",
    ),
    Message(
        "hum",
        "Hum of {hz} Hz: check cables",
        "The microphone hears the hum of the mains. Lay its cable away from power supplies, or try another.",
        bare="Hum: check cables",
        widest=(("hz", "60"),),
    ),
    Message(
        "gain-rides",
        "Does the mic set its own gain?",
        "The gain of the microphone seems to follow the level. Switch off its automatic gain: levels and takes need it "
        "steady.",
    ),
    Message(
        "dose",
        "Sound dose {dose} % of a day",
        "By the box's estimate this share of the day's recommended sound dose (NIOSH 98-126) is used up. Local rules "
        "come first.",
        bare="Sound dose grows",
        widest=(("dose", "1888"),),
    ),
    Message("clipping", "Microphone clips: less gain", "The microphone signal touches full scale; turn its gain down."),
)

BY_CODE: Final[dict[str, Message]] = {message.code: message for message in MESSAGES}


def line_of(code: str, values: Mapping[str, str] | None = None) -> str:
    """The strip's line for a code; never fails: an unknown code is shown as the general error."""
    message = BY_CODE.get(code, BY_CODE["error"])
    given = values or {}
    if not all(given.get(gap) for gap in message.gaps):
        return message.bare or message.line
    return message.line.format_map({gap: shortened(given[gap], wide) for gap, wide in message.widest})


def sentence_of(code: str, details: str = "") -> str:
    """The sentence for report.txt, with details behind it; an unknown code is named."""
    message = BY_CODE.get(code)
    text = message.sentence if message is not None else f"Something happened that has no name here ({code})."
    return f"{text} {details}".rstrip()


def shortened(value: str, widest: str) -> str:
    """A value on one line, cut to as many characters as the widest one has."""
    whole = " ".join(value.split())
    return whole if len(whole) <= len(widest) else whole[: len(widest) - 1].rstrip() + MORE
