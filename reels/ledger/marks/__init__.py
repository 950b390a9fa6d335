"""Reels as intervals of printed marks, and what cuts take off them. Pure: no Django."""
