"""Trucks at the gate: what came, what was missing or damaged outside, and what was written before signing."""
