"""Program files: each is read by a gate, found in a folder, for a control whose settings are understood."""

from __future__ import annotations

from collections.abc import Iterator

from floor.checklist.control_settings import SettingRefused, read_settings
from floor.checklist.findings import Finding
from floor.checklist.gates import ProgramLoaded
from floor.checklist.model import Checklist
from floor.checklist.operation import ProgramLimits
from floor.evidence.nc.against_card import find_program_number


def check_program_is_read(checklist: Checklist) -> Iterator[Finding]:
    """A program file is read at a gate, and lies in a folder of each station that runs it."""
    stations = {station.id: station for station in checklist.stations}
    for i, operation in enumerate(checklist.operations):
        at = ("operations", i, "program_file")
        if not operation.program_file:
            if operation.program_limits is not None:
                wrong = "has limits, but no program file to check"
                yield Finding(("operations", i, "program_limits"), wrong, "add `program_file`")
            continue
        if not any(isinstance(step, ProgramLoaded) for step in operation.steps):
            yield Finding(at, "no gate reads it", 'add a step with `gate = "program loaded"`')
        if operation.program_file in (".", "..") or set(operation.program_file) & set("/\\:"):
            yield Finding(at, "is more than a file name", "name the folder at the station: `program_folder`")
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


def check_program_limited(checklist: Checklist) -> Iterator[Finding]:
    """A program is held to the limits that are stated, and to no others."""
    for i, operation in enumerate(checklist.operations):
        limits = operation.program_limits or ProgramLimits()
        left = [name for name, ends in _SIDES.items() if all(getattr(limits, end) is None for end in ends)]
        if operation.program_file and left:
            fields = ", ".join(f"`{end}`" for name in left for end in _SIDES[name])
            wrong = f"the program's {', '.join(left)}: not checked"
            yield Finding(("operations", i, "program_file"), wrong, f"add {fields} to `program_limits`")


_SIDES = {"depth": ("z_low",), "travel in X": ("x_low", "x_high"), "travel in Y": ("y_low", "y_high")}
"""What is held to limits → the fields that state them; one end of a travel may be enough."""


def check_program_depths(checklist: Checklist) -> Iterator[Finding]:
    """The lowest Z is in the metal, and rapids end between it and the top."""
    for i, operation in enumerate(checklist.operations):
        limits = operation.program_limits
        if limits is None:
            continue
        at, top = ("operations", i, "program_limits"), limits.z_top.base if limits.z_top is not None else 0.0
        named = f"the top of the work ({limits.z_top or 0})"
        if limits.z_low is not None and limits.z_low.base >= top:
            wrong = f"z_low ({limits.z_low}) is not below {named}"
            yield Finding(at, wrong, "make it negative, or state `z_top`")
        rapid = limits.rapid_z_low
        if rapid is not None and rapid.base > top:
            yield Finding(at, f"rapid_z_low ({rapid}) is above {named}", "leave it out, or lower it")
        if rapid is not None and limits.z_low is not None and rapid.base < limits.z_low.base:
            wrong = f"rapid_z_low ({rapid}) is below z_low ({limits.z_low})"
            yield Finding(at, wrong, "raise it to `z_low` or above: nothing may go lower")


def check_program_number(checklist: Checklist) -> Iterator[Finding]:
    for i, operation in enumerate(checklist.operations):
        number, in_name = (find_program_number(name) for name in (operation.program, operation.program_file))
        if number and in_name and number != in_name:
            wrong = f"{operation.program_file} has another number than program {operation.program}"
            yield Finding(("operations", i, "program_file"), wrong, "name the file of this program")


def check_station_folders(checklist: Checklist) -> Iterator[Finding]:
    for i, station in enumerate(checklist.stations):
        for field in ("program_folder", "readings_folder"):
            if ".." in getattr(station, field).replace("\\", "/").split("/"):
                right = "name a folder in the shop's folder, or a full path"
                yield Finding(("stations", i, field), '".." leads out of the shop\'s folder', right)


def check_control_settings(checklist: Checklist) -> Iterator[Finding]:
    for i, station in enumerate(checklist.stations):
        for name, value in station.control.items():
            try:
                read_settings([f"{name}={value}"])
            except SettingRefused as error:
                yield Finding(("stations", i, "control", name), error.wrong, error.right)


RULES = (
    check_program_is_read,
    check_program_limits,
    check_program_depths,
    check_program_number,
    check_station_folders,
    check_control_settings,
)

ADVISED = (check_program_limited,)
