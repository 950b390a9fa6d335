"""A run as drawn and as built: lengths, cross-section, strip, and what is warned of. Pure: no Django."""
