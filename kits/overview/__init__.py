"""Today, the run page and readiness."""
