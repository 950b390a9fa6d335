"""The bare cutting-stock problem: any number of bars of a few lengths. No page uses it."""
