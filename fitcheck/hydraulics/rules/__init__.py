"""The rules for judging the solved states, one rule or group of rules per file."""
