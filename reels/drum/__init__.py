"""Drums: how much cable fits, what it weighs, and other ways to know how much is left."""
