"""Patterns, their prices and the linear programmes behind bounds and better plans."""
