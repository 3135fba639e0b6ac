"""The tree of commands as data: in the order and under the headings of the help."""

from __future__ import annotations

import importlib
from typing import NamedTuple

import click


class CommandEntry(NamedTuple):
    """A command of the tree: where below here it is written ("" for a group), and its summary."""

    target: str
    summary: str


SECTIONS: dict[str, tuple[str, ...]] = {
    "Before a mix": (
        "check",
        "mix-by",
        "warmth",
        "plan",
        "product",
        "can",
        "part",
        "tonight",
        "estimate",
    ),
    "At the mix": ("mix", "undo"),
    "While it cures": ("bench", "reading", "dab", "test", "step", "done"),
    "Afterwards": ("morning", "log", "report"),
    "Set-up": ("up", "sensor", "room", "heater", "mask", "access", "clock", "data", "guide"),
}
TREE: dict[str, CommandEntry] = {
    "check": CommandEntry("before.check:check", "Stop, caution or go before a mix, and why."),
    "mix-by": CommandEntry("before.mix_by:mix_by", "Until when to mix, to be in time."),
    "warmth": CommandEntry("before.warmth:warmth", "What heat or another product would buy."),
    "plan": CommandEntry("", "A part backwards from a wish: by when to begin."),
    "plan show": CommandEntry(
        "before.plan:show", "Show by when to begin a part, and what tonight."
    ),
    "plan week": CommandEntry("before.plan:week", "Plan all wished parts, with one pair of hands."),
    "plan hours": CommandEntry(
        "before.plan:hours", "Enter when you are in the garage, and how many clamps you have."
    ),
    "plan way": CommandEntry("before.plan:way", "Choose how a part is worked on."),
    "plan wish": CommandEntry("before.plan:wish", "Enter what a part is to be, and by when."),
    "plan remind": CommandEntry(
        "before.plan:remind", "Remind of when to begin the steps of the plan."
    ),
    "plan begun": CommandEntry(
        "before.plan:begun", "Enter that the next step of a part was begun."
    ),
    "product": CommandEntry("", "Products: their labels, and what was learned about them."),
    "product list": CommandEntry("before.product:list_", "List every product, yours and generic."),
    "product show": CommandEntry("before.product:show", "Show a product's label as it is saved."),
    "product new": CommandEntry("before.product:new", "Copy a label by answering questions."),
    "product edit": CommandEntry("before.product:edit", "Change a product's label."),
    "product add": CommandEntry("before.product:add", "Check a product's file and save it."),
    "product check": CommandEntry(
        "before.product:check", "Check a product's file without saving it."
    ),
    "product remove": CommandEntry(
        "before.product:remove", "Take a product of your own off the shelf."
    ),
    "can": CommandEntry("", "Cans on the shelf: batches, expiry, how cold they were stored."),
    "can list": CommandEntry("before.can:list_", "List the cans, and which to bring indoors."),
    "can add": CommandEntry("before.can:add", "Put a can on the shelf."),
    "can edit": CommandEntry("before.can:edit", "Add to a can or correct it."),
    "can open": CommandEntry("before.can:open_", "Record that a can was opened."),
    "can empty": CommandEntry("before.can:empty", "Record that a can is used up."),
    "part": CommandEntry("", "Parts: what is next on each, bare metal, structural or not."),
    "part list": CommandEntry("before.part:list_", "Show where you left off on each part."),
    "part bare": CommandEntry("before.part:bare", "Start the bare-metal timer of a part."),
    "part covered": CommandEntry("before.part:covered", "Stop the bare-metal timer of a part."),
    "part done": CommandEntry("before.part:done", "Record that a part is finished."),
    "part structural": CommandEntry("before.part:structural", "Mark a part as structural or not."),
    "tonight": CommandEntry(
        "before.evening:tonight", "Until when you work tonight, and what is bare."
    ),
    "estimate": CommandEntry(
        "before.estimate:estimate", "A product's times at a temperature you give."
    ),
    "mix": CommandEntry("curing.mix:mix", "Start the clock when resin meets hardener."),
    "undo": CommandEntry("curing.undo:undo", "Undo what was entered last, or number N."),
    "bench": CommandEntry("curing.bench:bench", "Show what is curing, and when to test it."),
    "reading": CommandEntry("", "Readings you type, or import from a data logger."),
    "reading add": CommandEntry("curing.reading:add", "Enter a thermometer's reading."),
    "reading list": CommandEntry("curing.reading:list_", "List the readings you typed."),
    "reading remove": CommandEntry("curing.reading:remove", "Take a typed reading back."),
    "reading import": CommandEntry("setup.listen:import_", "Import a data logger's CSV file."),
    "dab": CommandEntry("curing.mix:dab", "Enter how the test dab is."),
    "test": CommandEntry("curing.mix:test", "Enter what your test on the work found."),
    "step": CommandEntry("", "One step: its details, photographs, heat and history."),
    "step show": CommandEntry(
        "curing.logbook:show", "Show a step with its conditions and history."
    ),
    "step compare": CommandEntry("curing.logbook:compare", "Show steps side by side."),
    "step edit": CommandEntry("curing.mix:edit", "Add to a step or correct it."),
    "step note": CommandEntry("curing.step:note", "Add a note to a step."),
    "step photo": CommandEntry("curing.step:photo", "Add a photograph to a step."),
    "step mark": CommandEntry("curing.step:mark", "Record a coat, or clamps on or off."),
    "step heat": CommandEntry("curing.step:heat", "Record heat on a step's metal."),
    "step fan": CommandEntry("curing.step:fan", "Record that the fan is on."),
    "step emptied": CommandEntry("curing.step:emptied", "Record: cup empty, tools cleaned."),
    "step acknowledge": CommandEntry("curing.step:acknowledge", "Answer a protection reminder."),
    "step why": CommandEntry("curing.step:why_", "Enter why a step was mixed despite a stop."),
    "done": CommandEntry("curing.mix:done", "Take a step off the bench: finished or failed."),
    "morning": CommandEntry("before.evening:morning_", "How far each step cured overnight."),
    "log": CommandEntry("curing.logbook:log", "Show jobs, their steps and the conditions."),
    "report": CommandEntry("curing.logbook:report", "Write a job's hand-over sheet, HTML or PDF."),
    "up": CommandEntry("setup.up:up", "Start the pages and the broker, until Ctrl-C."),
    "sensor": CommandEntry("", "Sensors: latest readings, rejected messages, checks."),
    "sensor list": CommandEntry(
        "setup.sensor:list_", "Show each sensor and the rejected messages."
    ),
    "sensor listen": CommandEntry(
        "setup.listen:listen", "Listen to every topic, and save a sensor."
    ),
    "sensor check": CommandEntry("setup.sensor:check", "Check a sensor against a reference."),
    "sensor salt": CommandEntry("setup.sensor:salt", "Check a hygrometer with wet table salt."),
    "sensor rename": CommandEntry(
        "setup.sensor:rename", "Connect a sensor's new topic with its old one."
    ),
    "sensor set-aside": CommandEntry(
        "setup.sensor:set_aside", "Set aside readings dated in the future."
    ),
    "room": CommandEntry("", "The room and its fan, and how long airing takes."),
    "room set": CommandEntry("setup.room:set_", "Enter the room's volume and its fan."),
    "room show": CommandEntry("setup.room:show", "Show how long the room takes to air out."),
    "heater": CommandEntry("", "Lamps and heaters you own, and what they really did."),
    "heater list": CommandEntry("before.warmth:list_", "Show the lamps and heaters you own."),
    "heater add": CommandEntry("before.warmth:add", "Enter a lamp or a heater, or correct one."),
    "heater gave": CommandEntry("before.warmth:gave", "Enter what a probe under a lamp shows."),
    "heater ran": CommandEntry("before.warmth:ran", "Enter from when to when a heater was on."),
    "heater price": CommandEntry("before.warmth:price", "Enter what a kilowatt hour costs."),
    "heater remove": CommandEntry("before.warmth:remove", "Take a lamp or heater off the list."),
    "mask": CommandEntry("", "Mask cartridges and dust filters: hours worn, when to discard."),
    "mask list": CommandEntry("setup.mask:list_", "Show the cartridges and filters in use."),
    "mask open": CommandEntry("setup.mask:open_", "Open a new set of cartridges or filters."),
    "mask wear": CommandEntry("setup.mask:wear", "Add hours worn that no step records."),
    "mask discard": CommandEntry("setup.mask:discard", "Record that a set is discarded."),
    "access": CommandEntry("", "Passcode and passwords for phones and sensors on your network."),
    "access show": CommandEntry(
        "setup.access:show", "Show the address for a phone; make the passcode."
    ),
    "access renew": CommandEntry("setup.access:renew", "Make new secrets; sign all devices out."),
    "clock": CommandEntry("", "This computer's clock, after it went back."),
    "clock confirm": CommandEntry("setup.clock:confirm", "Confirm that the clock is right."),
    "data": CommandEntry("", "Your data: where they are, copies, export and import."),
    "data path": CommandEntry("setup.data:path", "Show where your data are."),
    "data backup": CommandEntry("setup.data:back_up", "Copy logbook, photographs and settings."),
    "data restore": CommandEntry("setup.data:restore", "Replace the logbook by a copy."),
    "data export": CommandEntry("setup.data:export", "Print everything as JSON."),
    "data import": CommandEntry("setup.data:import_", "Import another curewatch's export."),
    "data schema": CommandEntry("setup.data:schema", "Print the JSON Schema of the export."),
    "guide": CommandEntry("setup.guide:guide", "Read the guide: the topics, or one of them."),
}


def loaded(entry: CommandEntry) -> click.Command:
    """The command of an entry, imported."""
    module, _, name = entry.target.partition(":")
    command = getattr(importlib.import_module(f"curewatch.commands.{module}"), name)
    assert isinstance(command, click.Command)
    return command
