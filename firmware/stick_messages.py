"""Lines about the stick and the takes on it."""

from __future__ import annotations

from typing import Final

from firmware.message import Message

_TAKE: Final = (("number", "999"),)

STICK: Final[tuple[Message, ...]] = (
    Message("stick-in", "Stick is ready", "A USB stick was put in and can be written to."),
    Message(
        "stick-out",
        "Stick is out",
        "There is no USB stick. What was written before it left is safe up to the last second.",
    ),
    Message(
        "stick-released", "Stick may be pulled", "The USB stick was let go: all is written, and it can be pulled out."
    ),
    Message("release-waits", "Stop the take first", "The USB stick is not let go while a take is written to it."),
    Message(
        "stick-busy", "Stick is still in use", "The USB stick could not be let go; try again, or switch off first."
    ),
    Message("stick-missing", "No stick: put one in", "A take needs a USB stick, and there is none."),
    Message(
        "stick-full", "Stick is full", "The USB stick is full. Put in one with more room, or delete old rehearsals."
    ),
    Message(
        "stick-read-only",
        "Stick is locked",
        "The USB stick can't be written to. Slide its lock to open, or put in another one.",
    ),
    Message(
        "stick-error", "Stick refuses: try another", "The USB stick refuses to be read or written. Put in another one."
    ),
    Message(
        "stick-odd",
        "Odd name on stick: see report",
        "On the stick a folder, file or link has a name that the box needs for something else; the details name it. "
        "Rename it on a computer.",
    ),
    Message(
        "stick-unknown",
        "Can't read stick: FAT32?",
        "There is a USB stick whose file system the box does not know. Format it as FAT32, or put in another one.",
    ),
    Message(
        "stick-two",
        "Two sticks: one is used",
        "There are two USB sticks; the box uses the one that was put in first. Take the other one out.",
    ),
    Message(
        "take-mended",
        "A cut take was mended",
        "The power went or the stick was pulled while a take was written; it now ends where it broke off.",
    ),
    Message(
        "settings-before",
        "Settings were broken: older used",
        "The settings file can't be read; the one that was saved before it is used.",
    ),
    Message(
        "stick-slow",
        "Stick is slow, still writing",
        "The USB stick takes longer than the sound lasts; what waits is kept in memory for a while.",
    ),
)

TAKES: Final[tuple[Message, ...]] = (
    Message(
        "take-started",
        "Take {number} runs",
        "A take was started; it begins with the pre-roll.",
        bare="Take runs",
        widest=_TAKE,
    ),
    Message(
        "take-saved",
        "Take {number} is safe",
        "A take is closed and safe on the stick.",
        bare="Take is safe",
        widest=_TAKE,
    ),
    Message(
        "take-late",
        "Take {number} misses its start",
        "The beginning of a take was no longer in memory; the details say how much is missing.",
        bare="Take misses its start",
        widest=_TAKE,
    ),
    Message(
        "take-lost", "Take lost sound: see report", "A part of a take could not be written; the details say how much."
    ),
    Message(
        "take-spooled",
        "Take goes on inside the box",
        "The stick can't be written to, so the take goes on in the box itself; it joins the stick when that is back.",
    ),
    Message(
        "take-joined",
        "Take is joined, nothing lost",
        "What a take had kept inside the box is on its stick now; its parts follow each other without a gap.",
    ),
    Message(
        "take-kept",
        "A take waits for its stick",
        "The end of a take is kept inside the box, and joins its stick when that is put in.",
    ),
    Message(
        "spool-full",
        "Box is full: take ended",
        "Neither the stick nor the box has room for more of the take, so it ended; what it has is kept.",
    ),
    Message(
        "stick-filling",
        "Room for {minutes} min on the stick",
        "The USB stick is nearly full. Put in one with more room, or delete old rehearsals.",
        bare="Stick is nearly full",
        widest=(("minutes", "10"),),
    ),
    Message(
        "gain-advice",
        "Mic gain {advice} would fit",
        "By what the microphone heard in the last minute, another gain would fit better.",
        bare="Another mic gain would fit",
        widest=(("advice", "24 dB down"),),
    ),
    Message(
        "takes-deleted",
        "Takes deleted: {count}",
        "Takes were deleted for good, with their chapters; what the ear wrote down stays.",
        bare="Takes are deleted",
        widest=(("count", "888"),),
    ),
    Message("delete-waits", "Stop the take first", "Takes are not deleted while one is recorded."),
    Message("nothing-to-delete", "No take to delete", "There is no take in this rehearsal that could be deleted."),
    Message(
        "takes-expired",
        "Old takes were deleted",
        "Takes that are older than the days they are kept were deleted for good; the details count them.",
    ),
    Message(
        "keep-no-date",
        "No date: old takes are kept",
        "Takes shall be kept for some days only, but the box does not know the date, so it deletes none.",
    ),
    Message("marker", "Marker {number}", "A marker was dropped in the take.", bare="Marker", widest=_TAKE),
    Message("no-take", "No take runs", "A marker needs a take that runs."),
    Message("nothing-to-replay", "No take to replay yet", "There is no take to replay yet in this rehearsal."),
    Message("replay-failed", "Can't replay this take", "The file of the take can't be read; the details say why."),
)
