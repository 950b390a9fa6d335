"""Proofs about the ledgers."""
