"""The page *Load sheets*: upload, look, confirm."""
