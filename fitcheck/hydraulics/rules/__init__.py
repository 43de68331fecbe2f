"""What the solved states are judged by, one rule or group of rules a file."""
