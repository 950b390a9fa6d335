"""The demo site: its sheets dated to the day it is loaded, its people, and what it shows."""
