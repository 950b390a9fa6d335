"""Suppliers, items and cables."""
