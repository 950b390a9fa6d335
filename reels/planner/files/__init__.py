"""Bare problems and plans as files and as text."""
