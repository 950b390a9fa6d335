"""Exact numbers, lengths, other measures and cable sizes."""
