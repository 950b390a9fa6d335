"""Cable that is short: which sets go without, what to buy, how an accepted plan is held."""
