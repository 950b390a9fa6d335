"""Hand-outs, returns, borrows and counts."""
