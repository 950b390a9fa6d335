"""Runs, their parts and the lengths of their conductors."""
