"""Several scenarios side by side.

Takes files; runs are sequential, a failure is reported for its own run only, and each run is
written before the next begins. The entry point is `scenarios.compare_scenarios`.
"""
