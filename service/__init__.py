"""Axlewright: axle alignment arithmetic for heavy trucks, behind a REST/JSON door."""

__version__ = "0.2.0"
