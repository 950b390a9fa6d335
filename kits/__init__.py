"""Everything counted, and the reports that read all floors."""
