"""The tree of commands as data: in the order and under the headings of the help."""

from __future__ import annotations

import importlib
from typing import NamedTuple

import click


class Entry(NamedTuple):
    """A command of the tree: where below here it is written ("" for a group), and its summary."""

    target: str
    summary: str


SECTIONS: dict[str, tuple[str, ...]] = {
    "Before a mix": ("check", "product", "can", "part", "tonight", "estimate"),
    "At the mix": ("mix", "undo"),
    "While it cures": ("bench", "reading", "dab", "test", "step", "done"),
    "Afterwards": ("morning", "log", "report"),
    "Set-up": ("up", "sensor", "room", "mask", "access", "clock", "data", "guide"),
}
TREE: dict[str, Entry] = {
    "check": Entry("before.check:check", "Stop, caution or go before a mix, and why."),
    "product": Entry("", "Products: their labels, and what was learned about them."),
    "product list": Entry("before.product:list_", "List every product, yours and generic."),
    "product show": Entry("before.product:show", "Show a product's label as it is saved."),
    "product new": Entry("before.product:new", "Copy a label by answering questions."),
    "product edit": Entry("before.product:edit", "Change a product's label."),
    "product add": Entry("before.product:add", "Check a product's file and save it."),
    "product check": Entry("before.product:check", "Check a product's file without saving it."),
    "product remove": Entry("before.product:remove", "Take a product of your own off the shelf."),
    "can": Entry("", "Cans on the shelf: batches, expiry, how cold they were stored."),
    "can list": Entry("before.can:list_", "List the cans, and which to bring indoors."),
    "can add": Entry("before.can:add", "Put a can on the shelf."),
    "can edit": Entry("before.can:edit", "Add to a can or correct it."),
    "can open": Entry("before.can:open_", "Record that a can was opened."),
    "can empty": Entry("before.can:empty", "Record that a can is used up."),
    "part": Entry("", "Parts: what is next on each, bare metal, structural or not."),
    "part list": Entry("before.part:list_", "Show where you left off on each part."),
    "part bare": Entry("before.part:bare", "Start the bare-metal timer of a part."),
    "part covered": Entry("before.part:covered", "Stop the bare-metal timer of a part."),
    "part done": Entry("before.part:done", "Record that a part is finished."),
    "part structural": Entry("before.part:structural", "Mark a part as structural or not."),
    "tonight": Entry("before.evening:tonight", "Until when you work tonight, and what is bare."),
    "estimate": Entry("before.estimate:estimate", "A product's times at a temperature you give."),
    "mix": Entry("curing.mix:mix", "Start the clock when resin meets hardener."),
    "undo": Entry("curing.undo:undo", "Undo what was entered last, or number N."),
    "bench": Entry("curing.bench:bench", "Show what is curing, and when to test it."),
    "reading": Entry("", "Readings you type, or import from a data logger."),
    "reading add": Entry("curing.reading:add", "Enter a thermometer's reading."),
    "reading list": Entry("curing.reading:list_", "List the readings you typed."),
    "reading remove": Entry("curing.reading:remove", "Take a typed reading back."),
    "reading import": Entry("setup.listen:import_", "Import a data logger's CSV file."),
    "dab": Entry("curing.mix:dab", "Enter how the test dab is."),
    "test": Entry("curing.mix:test", "Enter what your test on the work found."),
    "step": Entry("", "One step: its details, photographs, heat and history."),
    "step show": Entry("curing.logbook:show", "Show a step with its conditions and history."),
    "step compare": Entry("curing.logbook:compare", "Show two steps of a product side by side."),
    "step edit": Entry("curing.mix:edit", "Add to a step or correct it."),
    "step note": Entry("curing.step:note", "Add a note to a step."),
    "step photo": Entry("curing.step:photo", "Add a photograph to a step."),
    "step mark": Entry("curing.step:mark", "Record a coat, or clamps on or off."),
    "step heat": Entry("curing.step:heat", "Record heat on a step's metal."),
    "step fan": Entry("curing.step:fan", "Record that the fan is on."),
    "step emptied": Entry("curing.step:emptied", "Record: cup empty, tools cleaned."),
    "step acknowledge": Entry("curing.step:acknowledge", "Answer a protection reminder."),
    "step why": Entry("curing.step:why_", "Enter why a step was mixed despite a stop."),
    "done": Entry("curing.mix:done", "Take a step off the bench: finished or failed."),
    "morning": Entry("before.evening:morning_", "How far each step cured overnight."),
    "log": Entry("curing.logbook:log", "Show jobs, their steps and the conditions."),
    "report": Entry("curing.logbook:report", "Write a job's hand-over sheet, HTML or PDF."),
    "up": Entry("setup.up:up", "Start the pages and the broker, until Ctrl-C."),
    "sensor": Entry("", "Sensors: latest readings, rejected messages, checks."),
    "sensor list": Entry("setup.sensor:list_", "Show each sensor and the rejected messages."),
    "sensor listen": Entry("setup.listen:listen", "Listen to every topic, and save a sensor."),
    "sensor check": Entry("setup.sensor:check", "Check a sensor against a reference."),
    "sensor salt": Entry("setup.sensor:salt", "Check a hygrometer with wet table salt."),
    "sensor rename": Entry("setup.sensor:rename", "Connect a sensor's new topic with its old one."),
    "sensor set-aside": Entry("setup.sensor:set_aside", "Set aside readings dated in the future."),
    "room": Entry("", "The room and its fan, and how long airing takes."),
    "room set": Entry("setup.room:set_", "Enter the room's volume and its fan."),
    "room show": Entry("setup.room:show", "Show how long the room takes to air out."),
    "mask": Entry("", "Mask cartridges and dust filters: hours worn, when to discard."),
    "mask list": Entry("setup.mask:list_", "Show the cartridges and filters in use."),
    "mask open": Entry("setup.mask:open_", "Open a new set of cartridges or filters."),
    "mask wear": Entry("setup.mask:wear", "Add hours worn that no step records."),
    "mask discard": Entry("setup.mask:discard", "Record that a set is discarded."),
    "access": Entry("", "Passcode and passwords for phones and sensors on your network."),
    "access show": Entry("setup.access:show", "Show the address for a phone; make the passcode."),
    "access renew": Entry("setup.access:renew", "Make new secrets; sign all devices out."),
    "clock": Entry("", "This computer's clock, after it went back."),
    "clock confirm": Entry("setup.clock:confirm", "Confirm that the clock is right."),
    "data": Entry("", "Your data: where they are, copies, export and import."),
    "data path": Entry("setup.data:path", "Show where your data are."),
    "data backup": Entry("setup.data:back_up", "Copy logbook, photographs and settings."),
    "data restore": Entry("setup.data:restore", "Replace the logbook by a copy."),
    "data export": Entry("setup.data:export", "Print everything as JSON."),
    "data import": Entry("setup.data:import_", "Import another curewatch's export."),
    "data schema": Entry("setup.data:schema", "Print the JSON Schema of the export."),
    "guide": Entry("setup.guide:guide", "Read the guide: the topics, or one of them."),
}


def loaded(entry: Entry) -> click.Command:
    """The command of an entry, imported."""
    module, _, name = entry.target.partition(":")
    command = getattr(importlib.import_module(f"curewatch.commands.{module}"), name)
    assert isinstance(command, click.Command)
    return command
