"""Preview of a scan on board, before there is a scenario."""
