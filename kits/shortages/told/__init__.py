"""Shortages in words, figures and drawings. Pure: no Django."""
