"""Sheets as files: read from workbooks and CSVs, written as workbooks, described."""
