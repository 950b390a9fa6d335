"""The double-entry stock ledger."""
