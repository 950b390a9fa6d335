"""Reels, cuts and their marks."""
