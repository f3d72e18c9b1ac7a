"""Program files: each is read by a gate, found in a folder, for a control whose settings are understood."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.control_settings import SettingRefused, read_settings
from floor.checklist.findings import Finding
from floor.checklist.gates import ProgramLoaded
from floor.checklist.model import Checklist


def check_program_is_read(checklist: Checklist) -> Iterator[Finding]:
    """A program file is read at a gate, and lies in a folder of each station that runs it."""
    stations = {station.id: station for station in checklist.stations}
    for i, operation in enumerate(checklist.operations):
        at = ("operations", i, "program_file")
        if not operation.program_file:
            if operation.program_limits is not None:
                wrong = "limits of a program that is never read"
                yield Finding(("operations", i, "program_limits"), wrong, "add `program_file`")
            continue
        if not any(isinstance(step, ProgramLoaded) for step in operation.steps):
            yield Finding(at, "no gate reads it", 'add a step with `gate = "program loaded"`')
        if operation.program_file in (".", "..") or set(operation.program_file) & set("/\\:"):
            yield Finding(at, "is not just a file name", "the folder belongs to the station: `program_folder`")
        for name in operation.stations:
            if name in stations and not stations[name].program_folder:
                wrong = f"{name} has no folder to find it in"
                yield Finding(at, wrong, f'add `program_folder = "programs"` to station {name}')


def check_program_limits(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        limits = operation.program_limits
        for axis in "xy" if limits is not None else "":
            low, high = getattr(limits, f"{axis}_low"), getattr(limits, f"{axis}_high")
            if low is not None and high is not None and low.base >= high.base:
                wrong = f"{axis}_low ({low}) is not below {axis}_high ({high})"
                yield Finding(("operations", i, "program_limits"), wrong, "put the smaller value first")


def check_control_settings(checklist: Checklist) -> Iterator[Finding]:
    for i, station in enumerate(checklist.stations):
        for name, value in station.control.items():
            try:
                read_settings([f"{name}={value}"])
            except SettingRefused as error:
                yield Finding(("stations", i, "control", name), error.wrong, error.right)


RULES = (check_program_is_read, check_program_limits, check_control_settings)
