"""Stock on its way from one site to another."""
