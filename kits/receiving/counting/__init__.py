"""Counts against packing lists: shares, substitutes, what is over, short and damaged, the dates. Pure: no Django."""
