"""Pure: no Django. The offer to take, and prices over time drawn."""
