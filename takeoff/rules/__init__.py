"""Rule books, the quantity engine and takeoffs."""
