"""On which terms records are taken: refusals, and the clocks of devices. Pure: no Django."""
