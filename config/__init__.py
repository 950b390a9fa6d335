"""Settings, addresses and the web server entry."""
