"""What can be bought: one model a kind, units, and reading a catalogue from files."""

from optimise.parts.catalogue import Catalogue, read_catalogue
from optimise.parts.drivers import Driver
from optimise.parts.emitters import Emitter
from optimise.parts.faults import Collector, Fault, InputError
from optimise.parts.kinds import Battery, Cable, Connector, Diffuser, Fuse, Mount, Panel
from optimise.parts.offers import Offer, Supplier
from optimise.parts.part import Part

__all__ = [
    "Battery",
    "Cable",
    "Catalogue",
    "Collector",
    "Connector",
    "Diffuser",
    "Driver",
    "Emitter",
    "Fault",
    "Fuse",
    "InputError",
    "Mount",
    "Offer",
    "Panel",
    "Part",
    "Supplier",
    "read_catalogue",
]
