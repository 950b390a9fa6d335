"""Counts against packing lists."""
