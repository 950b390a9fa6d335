"""Pure: no Django. What is left over, and what the use of a site teaches the next takeoff."""
