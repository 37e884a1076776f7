"""Runstand: the numbers of building, first firing and breaking in a small air-cooled piston engine."""
