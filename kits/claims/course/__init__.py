"""How a claim goes on, and what of a delivery is still to be claimed. Pure: no Django."""
