"""How an order goes on, and what of it is still to come. Pure: no Django."""
