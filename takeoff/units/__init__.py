"""Units, exact numbers and sizes. Pure: no Django."""
