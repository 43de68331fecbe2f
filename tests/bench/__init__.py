"""Measurements run by hand: planted problems, known answers, peers, growth; no tests."""
