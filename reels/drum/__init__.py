"""Drums: how much cable they hold, and what is left by weight, diameter and turns. Pure: no Django."""
