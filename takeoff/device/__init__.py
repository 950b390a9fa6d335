"""The phone's queue: what is done without signal is kept on the device, then sent through the one door."""
