"""Stock in memory: balances, lots, and what the ledger refuses in words. Pure: no Django."""
