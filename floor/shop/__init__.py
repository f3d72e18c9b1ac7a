"""The service between the rules and the record: what the screens and the command line work with."""

from floor.shop.clock import Clock, read_clock
from floor.shop.shop import Shop

__all__ = [
    "checklists",
    "clock",
    "Clock",
    "demo",
    "earlier_batches",
    "find_named",
    "find_tagged",
    "gauge_register",
    "lessons",
    "load_settings",
    "logger_readings",
    "maintenance",
    "open_batches",
    "second_signature",
    "program_files",
    "read_clock",
    "settings",
    "shop",
    "Shop",
    "shop_record",
    "closed_summaries",
    "station_folders",
    "trial_files",
    "weaker_checklist",
]
