"""Time and memory, run by hand; nothing here is part of the test run."""
