"""Several scenarios side by side.

Takes files; every run is sequential, what one of them cannot do is said of it alone, and what is
done is written before the next begins. `scenarios.compare_scenarios` is the way in.
"""
